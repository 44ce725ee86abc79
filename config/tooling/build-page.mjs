/**
 * Builds the page into a folder: script and style bundled, named by what is in them, and packed beforehand so that a
 * small board has nothing to compress when somebody looks.
 */
import { createHash } from 'node:crypto'
import { copyFile, mkdir, readdir, readFile, rm, writeFile } from 'node:fs/promises'
import { basename, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { brotliCompressSync, constants, gzipSync } from 'node:zlib'
import { build } from 'esbuild'

const SOURCE = fileURLToPath(new URL('../../src/show/page/', import.meta.url))
const PACKED = /\.(js|css|html|svg|webmanifest)$/
const WORTH_BYTES = 512
const COPIED = ['mark.svg', 'plain.css', 'manifest.webmanifest', 'icon-192.png', 'icon-512.png']
const TARGET = ['es2022', 'chrome111', 'firefox115', 'safari16.4']

async function bundle(outDir) {
  const result = await build({
    entryPoints: [join(SOURCE, 'main.ts'), join(SOURCE, 'style.css')],
    outdir: join(outDir, 'assets'),
    entryNames: '[name]-[hash]',
    chunkNames: '[name]-[hash]',
    bundle: true,
    splitting: true,
    minify: true,
    format: 'esm',
    target: TARGET,
    legalComments: 'none',
    metafile: true,
    logLevel: 'warning',
  })
  return Object.keys(result.metafile.outputs).map((path) => basename(path))
}

/** The service worker, told which files are the shell; its cache is named by what is in them. */
async function bundleWorker(outDir, files, page) {
  const shell = ['/', '/mark.svg', ...files.map((name) => `/assets/${name}`)].toSorted()
  const version = createHash('sha256').update(shell.join('\n')).update(page).digest('hex').slice(0, 12)
  await build({
    entryPoints: [join(SOURCE, 'worker.ts')],
    outfile: join(outDir, 'worker.js'),
    define: { SHELL: JSON.stringify(shell), VERSION: JSON.stringify(version) },
    bundle: true,
    minify: true,
    format: 'iife',
    target: TARGET,
    legalComments: 'none',
    logLevel: 'warning',
  })
}

function packBytes(bytes) {
  const brotli = brotliCompressSync(bytes, { params: { [constants.BROTLI_PARAM_QUALITY]: 11 } })
  return { '.gz': gzipSync(bytes, { level: 9 }), '.br': brotli }
}

async function packAll(folder) {
  for (const entry of await readdir(folder, { withFileTypes: true, recursive: true })) {
    if (!entry.isFile() || !PACKED.test(entry.name)) continue
    const path = join(entry.parentPath ?? entry.path, entry.name)
    const bytes = await readFile(path)
    if (bytes.length < WORTH_BYTES) continue
    for (const [ending, packed] of Object.entries(packBytes(bytes))) await writeFile(path + ending, packed)
  }
}

function named(files, stem, ending) {
  const file = files.find((name) => name.startsWith(`${stem}-`) && name.endsWith(ending))
  if (file === undefined) throw new Error(`build-page: no ${stem}-*${ending} among ${files.join(', ')}`)
  return `/assets/${file}`
}

/** Builds into `outDir`, which is emptied first. Throws when a source does not build. */
export async function buildPage(outDir) {
  await rm(outDir, { recursive: true, force: true })
  await mkdir(outDir, { recursive: true })
  const files = await bundle(outDir)
  const html = await readFile(join(SOURCE, 'index.html'), 'utf8')
  const page = html
    .replace('/assets/main.js', named(files, 'main', '.js'))
    .replace('/assets/style.css', named(files, 'style', '.css'))
  await writeFile(join(outDir, 'index.html'), page)
  for (const name of COPIED) await copyFile(join(SOURCE, name), join(outDir, name))
  await bundleWorker(outDir, files, page)
  await packAll(outDir)
}
