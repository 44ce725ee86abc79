/** The project's own files, read as text and as syntax, for the tests over the source itself. */
import { readdirSync, readFileSync } from 'node:fs'
import { dirname, join, posix } from 'node:path'
import { fileURLToPath } from 'node:url'
import ts from 'typescript'

export const ROOT = fileURLToPath(new URL('../..', import.meta.url))

/** A file, its path from the root of the project with `/`, and its text. */
export type SourceFile = { readonly path: string; readonly text: string }

export function readText(path: string): string {
  return readFileSync(join(ROOT, path), 'utf8')
}

/** Every file below these folders whose name ends so, in order of path. */
export function filesIn(folders: readonly string[], endings: readonly string[]): readonly SourceFile[] {
  return folders
    .flatMap((folder) =>
      readdirSync(join(ROOT, folder), { recursive: true, encoding: 'utf8' }).map((name) =>
        posix.join(folder, name.split('\\').join('/')),
      ),
    )
    .filter((path) => endings.some((ending) => path.endsWith(ending)))
    .sort()
    .map((path) => ({ path, text: readText(path) }))
}

/** What a file imports, as written: static, type-only and dynamic imports, and re-exports. */
export function importsOf({ text }: SourceFile): readonly string[] {
  return ts.preProcessFile(text, true, true).importedFiles.map(({ fileName }) => fileName)
}

/** The file of the project that a relative import means, or null for anything that is not there. */
export function resolveImport(from: string, specifier: string, paths: ReadonlySet<string>): string | null {
  const bare = posix.join(dirname(from), specifier)
  const asSource = bare.replace(/\.js$/, '.ts')
  return paths.has(asSource) ? asSource : paths.has(bare) ? bare : null
}

export type FunctionSize = { readonly where: string; readonly lines: number }

/**
 * Lines of each function, less those of the functions inside it: what must be read in one go. A function whose body is
 * one returned literal is a record, not a course of action, and is left out.
 */
export function functionSizes({ path, text }: SourceFile): readonly FunctionSize[] {
  const file = ts.createSourceFile(path, text, ts.ScriptTarget.ES2023, true)
  const lineAt = (position: number): number => file.getLineAndCharacterOfPosition(position).line
  const sizes: FunctionSize[] = []
  const visit = (node: ts.Node, outer: { lines: number } | null): void => {
    const body = ts.isFunctionLike(node) && 'body' in node ? node.body : undefined
    if (body === undefined) {
      ts.forEachChild(node, (child) => visit(child, outer))
      return
    }
    const first = lineAt(node.getStart(file))
    const whole = lineAt(node.end) - first + 1
    const own = { lines: whole }
    ts.forEachChild(node, (child) => visit(child, own))
    if (!isRecord(body)) sizes.push({ where: `${path}:${first + 1}`, lines: own.lines })
    if (outer !== null) outer.lines -= whole - 1
  }
  visit(file, null)
  return sizes
}

function isRecord(body: ts.Node): boolean {
  if (!ts.isBlock(body)) return ts.isParenthesizedExpression(body)
  const [only] = body.statements
  return (
    body.statements.length === 1 &&
    only !== undefined &&
    ts.isReturnStatement(only) &&
    only.expression !== undefined &&
    ts.isObjectLiteralExpression(only.expression)
  )
}
