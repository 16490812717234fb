/** The few pieces of SVG that both drawings are written with. */

const SIZES = { name: 11, figure: 10, terminal: 9, letter: 13 }
const FAMILIES = { name: 'sans-serif', figure: 'monospace', terminal: 'monospace', letter: 'sans-serif' }
export type Look = keyof typeof SIZES

export function escaped(words: string): string {
  return words.replaceAll('&', '&amp;').replaceAll('<', '&lt;').replaceAll('>', '&gt;').replaceAll('"', '&quot;')
}

/** Words in ink; the style sheet may name finer type of the same width. */
export function text(given: {
  readonly x: number
  readonly y: number
  readonly words: string
  readonly look: Look
  readonly anchor: 'start' | 'middle' | 'end'
}): string {
  const { look, anchor } = given
  const where = anchor === 'start' ? '' : ` text-anchor="${anchor}"`
  return `<text class="${look}" x="${at(given.x)}" y="${at(given.y)}" font-family="${FAMILIES[look]}" font-size="${SIZES[look]}" fill="currentColor" stroke="none"${where}>${escaped(given.words)}</text>`
}

/** A shape that leads to its page, or with an empty `href` nowhere; the title is what it is called. */
export function link(given: {
  readonly href: string
  readonly title: string
  readonly look: string
  readonly id: string
  readonly inside: string
}): string {
  const id = given.id === '' ? '' : ` id="${escaped(given.id)}"`
  if (given.href === '') return `<g class="${given.look}"${id}><title>${escaped(given.title)}</title>${given.inside}</g>`
  return `<a class="${given.look}"${id} href="${escaped(given.href)}"><title>${escaped(given.title)}</title>${given.inside}</a>`
}

/** A place or measure, to a tenth of a unit. */
export function at(value: number): string {
  return String(Math.round(value * 10) / 10)
}
