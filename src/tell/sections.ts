/**
 * The long form of a message as headed sections, once, and its two faces: plain text and simple HTML. The HTML
 * carries its own few styles and loads nothing from anywhere.
 */

export type Section = {
  readonly heading: string | null
  /** `list`: one item a line; `numbered`: the order matters; `prose`: a paragraph a line; `block`: kept as written. */
  readonly form: 'prose' | 'list' | 'numbered' | 'block'
  readonly lines: readonly string[]
  /** Of a list: which lines are over and done with; crossed out where the form can. */
  readonly struck?: readonly boolean[]
}

export type LongForm = {
  readonly title: string
  readonly sections: readonly Section[]
  /** A page to open, with the words on it. */
  readonly link: { readonly words: string; readonly address: string } | null
  /** Whether its HTML is set so small on paper that a bounded form stays on one page, A4 or US Letter. */
  readonly onePage?: boolean
}

export function prose(heading: string | null, ...lines: readonly string[]): Section {
  return { heading, form: 'prose', lines }
}

export function list(heading: string | null, lines: readonly string[]): Section {
  return { heading, form: 'list', lines }
}

function textLines({ form, lines }: Section): readonly string[] {
  if (form === 'list') return lines.map((line) => `- ${line}`)
  if (form === 'numbered') return lines.map((line, index) => `${index + 1}. ${line}`)
  return lines
}

/** Plain text: sections parted by an empty line. */
export function toText({ title, sections, link }: LongForm): string {
  const blocks = sections
    .filter(({ lines }) => lines.length > 0)
    .map((section) => [...(section.heading === null ? [] : [section.heading]), ...textLines(section)].join('\n'))
  if (link !== null) blocks.push(`${link.words}:\n${link.address}`)
  return `${[title, ...blocks].join('\n\n')}\n`
}

const ENTITIES: Readonly<Record<string, string>> = {
  '&': '&amp;',
  '<': '&lt;',
  '>': '&gt;',
  '"': '&quot;',
  "'": '&#39;',
}

/** Text made harmless inside HTML text and quoted attributes. */
export function escapeHtml(text: string): string {
  return text.replace(/[&<>"']/g, (char) => ENTITIES[char] ?? '')
}

function sectionHtml({ heading, form, lines, struck }: Section): string {
  const head =
    heading === null ? '' : `<h2 style="font-size:1em;margin:1.2em 0 .3em;color:#444">${escapeHtml(heading)}</h2>`
  if (form === 'list' || form === 'numbered') {
    const tag = form === 'list' ? 'ul' : 'ol'
    const items = lines
      .map((line, at) =>
        struck?.[at] === true ? `<li><s>${escapeHtml(line)}</s></li>` : `<li>${escapeHtml(line)}</li>`,
      )
      .join('')
    return `${head}<${tag} style="margin:.3em 0;padding-left:1.4em">${items}</${tag}>`
  }
  if (form === 'block') return `${head}<div style="white-space:pre-wrap">${escapeHtml(lines.join('\n'))}</div>`
  const paragraphs = lines.map((line) => `<p style="margin:.4em 0">${escapeHtml(line)}</p>`).join('')
  return heading === null ? `<div style="margin-top:1.2em">${paragraphs}</div>` : head + paragraphs
}

/** How the paragraph of the link begins: nothing that people wrote can look like it, since it is escaped. */
const LINK_BEGINS = '<p style="margin:1.4em 0"><a '

function linkHtml(link: LongForm['link']): string {
  if (link === null || !/^https?:\/\//i.test(link.address)) return ''
  const style = 'display:inline-block;padding:.6em 1.2em;border:1px solid #666;border-radius:.3em;color:#123'
  return `${LINK_BEGINS}style="${style}" href="${escapeHtml(link.address)}">${escapeHtml(link.words)}</a></p>`
}

/**
 * On paper only: mail programs that drop it lose nothing, and what stands in the elements gives way to it. Neither
 * `>` nor quotes, so that it is harmless wherever it lands.
 */
export const PRINT_STYLE = [
  '<style>@page{margin:10mm}@media print{',
  'body{font-size:8.5pt!important;line-height:1.2!important;max-width:none!important;padding:0!important}',
  'body *{break-before:avoid;break-inside:avoid;overflow-wrap:anywhere}',
  'h1{font-size:12pt!important;margin:0 0 3pt!important}h2{font-size:8.5pt!important;margin:5pt 0 1pt!important}',
  'p,ul,ol{margin:1pt 0!important}div{margin-top:4pt!important}',
  '}</style>',
].join('')

/** A whole HTML document of the same sections. */
export function toHtml({ title, sections, link, onePage }: LongForm): string {
  const body = sections.filter(({ lines }) => lines.length > 0).map(sectionHtml)
  const style = 'font:16px/1.45 sans-serif;color:#111;background:#fff;max-width:38em;margin:0;padding:1em'
  return [
    '<!doctype html>',
    `<html lang="en"><head><meta charset="utf-8"><title>${escapeHtml(title)}</title>${onePage === true ? PRINT_STYLE : ''}</head>`,
    `<body style="${style}">`,
    `<h1 style="font-size:1.25em;margin:0 0 .6em">${escapeHtml(title)}</h1>`,
    ...body,
    linkHtml(link),
    '</body></html>',
  ].join('\n')
}

/** A document of `toHtml` with a picture of the mail (`cid`, RFC 2392) before its link; its words stand beneath it. */
export function withPicture(html: string, cid: string, words: string): string {
  const link = html.lastIndexOf(LINK_BEGINS)
  const at = link >= 0 ? link : html.lastIndexOf('</body>')
  if (at < 0) return html
  const image = `<img src="cid:${escapeHtml(cid)}" alt="${escapeHtml(words)}" style="display:block;max-width:100%">`
  const caption = `<p style="margin:.3em 0;font-size:.85em;color:#444">${escapeHtml(words)}</p>`
  return `${html.slice(0, at)}<div style="margin:1.2em 0">${image}${caption}</div>\n${html.slice(at)}`
}
