/**
 * A drawing of our own on a page of a PDF file, by the file's own lines and real text in its own typeface: what its SVG says, piece by piece,
 * so that both are one drawing. Only what the drawings are written with is known here; anything else is an error, and nothing goes in silence.
 */
import type { Line, Type } from './pdf-type.ts'

type Place = { readonly x: number; readonly y: number; readonly scale: number }
type Attributes = Readonly<Record<string, string>>

/** The drawing's own size, in its units. */
export function sizeOfDrawing(svg: string): { readonly width: number; readonly height: number } {
  const [, , width, height] = (attributesOf(/<svg ([^>]*)>/.exec(svg)?.[1] ?? '').viewBox ?? '').split(' ').map(Number)
  if (!width || !height) throw new Error('the drawing has no size')
  return { width, height }
}

/** In one colour, its upper left corner at `x_pt`, `y_pt`, each of its units `scale` points. */
export function setDrawing(
  doc: PDFKit.PDFDocument,
  type: Type,
  given: { readonly svg: string; readonly x_pt: number; readonly y_pt: number; readonly scale: number },
): void {
  const places: Place[] = [{ x: given.x_pt, y: given.y_pt, scale: given.scale }]
  // Titles and descriptions are for the page; on paper the words drawn stand alone.
  const drawn = given.svg.replaceAll(/<(title|desc)[^>]*>[^<]*<\/\1>/g, '')
  let width = 1
  for (const [, end, name = '', rest = '', words = ''] of drawn.matchAll(/<(\/?)(\w+)([^>]*)>([^<]*)/g)) {
    const is = attributesOf(rest)
    const place = places.at(-1) as Place
    const isClosed = rest.endsWith('/')
    if (end === '/') {
      if (name !== 'text') places.pop()
    } else if (name === 'svg' || name === 'g' || name === 'a') {
      if (name === 'svg') width = Number(is['stroke-width'] ?? 1)
      places.push(moved(place, is.transform ?? ''))
    } else if (name === 'path') setPath(doc, { is, place: moved(place, is.transform ?? ''), width })
    else if (name === 'circle') {
      const [x, y, r] = [Number(is.cx), Number(is.cy), Number(is.r)]
      doc.circle(place.x + x * place.scale, place.y + y * place.scale, r * place.scale).fill('#000000')
    } else if (name === 'text') setWords(doc, type, { is, place, words: plain(words) })
    else if (name !== 'rect' || is.class !== 'touch' || !isClosed) throw new Error(`a drawing with <${name}> cannot be printed`)
  }
}

function setPath(doc: PDFKit.PDFDocument, given: { readonly is: Attributes; readonly place: Place; readonly width: number }): void {
  const { is, place, width } = given
  doc.save().translate(place.x, place.y).scale(place.scale)
  doc.path(is.d ?? '')
  if (is.fill === 'currentColor') doc.fill('#000000')
  else {
    const [dash, space = dash] = (is['stroke-dasharray'] ?? '').split(' ').map(Number)
    if (dash) doc.dash(dash, { space: space as number })
    doc.lineWidth(Number(is['stroke-width'] ?? width)).stroke('#000000')
  }
  doc.restore()
}

/** Set in its own place and size, so that what a reader of the file measures is what stands on paper. */
function setWords(
  doc: PDFKit.PDFDocument,
  type: Type,
  given: { readonly is: Attributes; readonly place: Place; readonly words: string },
): void {
  const { is, place, words } = given
  const size_pt = Number(is['font-size']) * place.scale
  doc.fillColor('#000000')
  const line: Line = { runs: type.runs(words, 'plain'), width_pt: type.width_pt(words, { face: 'plain', size_pt }) }
  const back_pt = is['text-anchor'] === 'end' ? line.width_pt : is['text-anchor'] === 'middle' ? line.width_pt / 2 : 0
  const x_pt = place.x + Number(is.x) * place.scale - back_pt
  type.set(line, { x_pt, y_pt: place.y + Number(is.y) * place.scale, size_pt, isBaseline: true })
}

/** Moves and scales alone: drawings on sheets turn nothing. */
function moved(place: Place, transform: string): Place {
  let { x, y, scale } = place
  for (const [, how, figures = ''] of transform.matchAll(/(\w+)\(([^)]*)\)/g)) {
    const [first = 0, second = 0] = figures.split(' ').map(Number)
    if (how === 'translate') [x, y] = [x + first * scale, y + second * scale]
    else if (how === 'scale') scale *= first
    else throw new Error(`a drawing with ${how} cannot be printed`)
  }
  return { x, y, scale }
}

function attributesOf(text: string): Attributes {
  return Object.fromEntries([...text.matchAll(/([\w-]+)="([^"]*)"/g)].map(([, name = '', value = '']) => [name, value]))
}

function plain(words: string): string {
  return words.replaceAll('&lt;', '<').replaceAll('&gt;', '>').replaceAll('&quot;', '"').replaceAll('&amp;', '&')
}
