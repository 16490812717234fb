/** What drawings and lists say of a conductor and of a part, in the words of the trade. */
import type { End, Linked } from '../../drawing/links.ts'
import { shortened, type Words } from '../../drawing/plan.ts'
import { areaOf_mm2 } from '../../engine/parts/conductor-sizes.ts'
import { partKind } from '../../engine/parts/index.ts'
import type { Component, Part, SizeName, VehicleDocument } from '../../engine/vehicle.ts'
import { figure } from '../../web/format.ts'
import { mainFigure } from './main-rating.ts'
import { doubt } from './rating-words.ts'

export type WireWords = {
  /** the wire number; empty where none is recorded, like all of these */
  readonly number: string
  /** "2.5 mm²", "2 × 2.5 mm²", "12 AWG" */
  readonly crossSection: string
  /** of one of those laid side by side */
  readonly one: string
  /** " (typical)" where nobody read the cross-section off the thing */
  readonly doubt: string
  /** "RD/WH": letters of IEC 60757, the stripe second */
  readonly colour: string
  readonly length: string
  readonly fittings: Readonly<Record<'a' | 'b', { readonly terminal: string; readonly tool: string }>>
}

export function wireWords(component: Component, part: Part): WireWords {
  const { number, colour, stripe, length_m, fittings } = component
  const one = sizeWords(part)
  const many = component.parallel ?? 1
  const fitting = (end: 'a' | 'b') => ({ terminal: fittings?.[end]?.terminal ?? '', tool: fittings?.[end]?.tool ?? '' })
  return {
    number: number ?? '',
    crossSection: many > 1 && one !== '' ? `${many} × ${one}` : one,
    one,
    doubt: one === '' ? '' : doubt(part.evidence?.[typeof part.ratings.crossSection_mm2 === 'number' ? 'crossSection_mm2' : 'size']),
    colour: [colour ?? '', stripe ?? ''].filter((one) => one !== '').join('/'),
    length: length_m === undefined ? '' : figure(length_m, 'm'),
    fittings: { a: fitting('a'), b: fitting('b') },
  }
}

/** The conductor's cross-section in mm², of one of those laid side by side; null is not known. */
export function crossSection_mm2(part: Part): number | null {
  const { crossSection_mm2: area, size } = part.ratings
  if (typeof area === 'number') return area
  return isSize(size) ? areaOf_mm2(size) : null
}

/** "Fuse, 15 A". */
export function partWords(part: Part): string {
  const nature = typeof part.ratings.nature === 'string' && part.kind === 'load' ? `, ${part.ratings.nature}` : ''
  const rating = ratingWords(part)
  return `${partKind(part.kind)?.title ?? part.kind}${nature}${rating === '' ? '' : `, ${rating}`}`
}

/** "15 A"; a battery's volts and ampere-hours. */
export function ratingWords(part: Part): string {
  const nominal = part.ratings.nominal_V
  const main = mainFigure(part)
  return [typeof nominal === 'number' ? figure(nominal, 'V') : '', main].filter((one) => one !== '').join(' ')
}

function sizeWords(part: Part): string {
  const { crossSection_mm2: area, size } = part.ratings
  if (typeof area === 'number') return figure(area, 'mm2')
  if (!isSize(size)) return ''
  return size.system === 'mm2' ? `${size.name} mm²` : `${size.name} ${size.system}`
}

function isSize(value: unknown): value is SizeName {
  return typeof value === 'object' && value !== null && 'system' in value
}

/** What a wiring drawing writes beside symbols and on wires. */
export function drawingWords(document: VehicleDocument): Words {
  const parts = new Map(document.parts.map((part) => [part.key, part]))
  const components = new Map(document.components.map((component) => [component.key, component]))
  const known = (key: string) => {
    const component = components.get(key)
    const part = parts.get(component?.part ?? '')
    return component && part ? { component, part } : null
  }
  return {
    symbol: (key) => {
      const one = known(key)
      return { name: one?.component.name ?? key, rating: one ? ratingWords(one.part) : '' }
    },
    wire: (key) => {
      const one = known(key)
      if (!one) return { above: [], below: [] }
      const { number, crossSection, colour, length, fittings } = wireWords(one.component, one.part)
      const first = [number, crossSection, colour].filter((word) => word !== '').join(' ')
      const ends = fittingLines(fittings.a.terminal, fittings.b.terminal)
      return { above: first === '' ? [] : [first], below: [length, ...ends].filter((word) => word !== '') }
    },
  }
}

/** The terminals of both ends, on one line where they are alike. */
function fittingLines(a: string, b: string): readonly string[] {
  if (a !== '' && a === b) return [`a, b ${shortened(a, 18)}`]
  return [a === '' ? '' : `a ${shortened(a, 18)}`, b === '' ? '' : `b ${shortened(b, 18)}`].filter((line) => line !== '')
}

/** "RD/WH, no. F1-2"; nothing where neither is recorded. */
export function marksWords({ colour, number }: Pick<WireWords, 'colour' | 'number'>): string {
  return [colour, number === '' ? '' : `no. ${number}`].filter((one) => one !== '').join(', ')
}

/** "a: M8 ring by hex crimper, b: M6 ring"; both ends at once where they are alike. */
export function fittingWords({ a, b }: WireWords['fittings']): string {
  const of = ({ terminal, tool }: WireWords['fittings']['a']) =>
    [terminal, tool === '' ? '' : `by ${tool}`].filter((one) => one !== '').join(' ')
  if (of(a) !== '' && of(a) === of(b)) return `a, b: ${of(a)}`
  return [of(a) === '' ? '' : `a: ${of(a)}`, of(b) === '' ? '' : `b: ${of(b)}`].filter((one) => one !== '').join(', ')
}

/** "Relay R1 30"; a place where wires meet has no terminals to tell apart. */
export function terminalWords(given: { readonly name: string; readonly kind: string; readonly terminal: string }): string {
  if (['splice', 'ground-point', 'chassis'].includes(given.kind)) return given.name
  return `${given.name} ${given.terminal === '-' ? '−' : given.terminal}`
}

export function endWords(linked: Linked, end: End): string {
  const point = linked.points.get(end.component)
  if (point) return point === 'open' ? 'an open end' : 'a joint'
  const known = linked.symbols.get(end.component)
  return known ? terminalWords({ name: known.component.name, kind: known.part.kind, terminal: end.terminal }) : ''
}
