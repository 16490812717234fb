/** The cut list of a harness: what to cut, of what, how long, and what goes on its ends. Pure. */
import type { Linked } from '../../drawing/links.ts'
import type { FormReader } from '../../web/form.ts'
import { crossSection_mm2, endWords, wireWords } from './wiring-words.ts'

export type CutEnd = { readonly at: string; readonly terminal: string; readonly tool: string }
export type CutLine = {
  readonly component: string
  readonly name: string
  readonly number: string
  readonly crossSection: string
  readonly crossSection_mm2: number | null
  readonly colour: string
  /** pieces of this line: identical conductors side by side */
  readonly count: number
  /** as recorded; null is not known, and then nothing can be cut to it */
  readonly length_m: number | null
  /** the recorded length with the allowance, rounded up to the centimetre */
  readonly cut_m: number | null
  readonly ends: readonly [CutEnd, CutEnd]
  readonly sleeve: string
}
export type CutTotal = {
  readonly crossSection: string
  readonly colour: string
  readonly pieces: number
  /** null where no piece of it has a length */
  readonly cut_m: number | null
  /** pieces of unknown length, which the metres leave out */
  readonly unknown: number
}

/** For each end: to strip, crimp and reach the terminal. A share more for the way round corners. */
export type Allowance = { readonly end_mm: number; readonly share_percent: number }

/** Two fingers' breadth at each end and a twentieth on top (common practice of the trade). */
export const USUAL: Allowance = { end_mm: 30, share_percent: 5 }

/** Past this a heavy conductor's terminal is a bare barrel, commonly sleeved (common practice of the trade). */
const SLEEVED_mm2 = 10
/** Two ends of heat-shrink, each over the barrel and a little of the insulation (common practice of the trade). */
const SLEEVE_mm = 40

/** Lines by number, then by cross-section, largest first. `picked` null: all of them. */
export function cutLines(linked: Linked, allowance: Allowance, picked: ReadonlySet<string> | null = null): readonly CutLine[] {
  const linkOf = new Map(linked.links.flatMap((link) => (link.conductor === null ? [] : [[link.conductor, link] as const])))
  return [...linked.conductors]
    .filter(([key]) => picked === null || picked.has(key))
    .map(([key, { component, part }]): CutLine => {
      const words = wireWords(component, part)
      const link = linkOf.get(key)
      const area = crossSection_mm2(part)
      const end = (at: 'a' | 'b'): CutEnd => ({ at: link ? endWords(linked, at === 'a' ? link.from : link.to) : '', ...words.fittings[at] })
      return {
        ...{ component: key, name: component.name, number: words.number, colour: words.colour },
        crossSection: words.one,
        crossSection_mm2: area,
        count: component.parallel ?? 1,
        length_m: component.length_m ?? null,
        cut_m: component.length_m === undefined ? null : cutLength_m(component.length_m, allowance),
        ends: [end('a'), end('b')],
        sleeve: area !== null && area >= SLEEVED_mm2 ? `2 × ${SLEEVE_mm} mm` : '',
      }
    })
    .sort(
      (one, other) =>
        byNumber(one.number, other.number) ||
        (other.crossSection_mm2 ?? 0) - (one.crossSection_mm2 ?? 0) ||
        (one.name < other.name ? -1 : 1),
    )
}

/** length · (1 + share) + 2 ends, rounded up to a whole centimetre: a wire too short is thrown away. */
export function cutLength_m(length_m: number, { end_mm, share_percent }: Allowance): number {
  const millimetres = length_m * 1000 * (1 + share_percent / 100) + 2 * end_mm
  return Math.ceil(Number((millimetres / 10).toFixed(6))) / 100
}

/** Metres per cross-section and colour, largest first. */
export function cutTotals(lines: readonly CutLine[]): readonly CutTotal[] {
  const totals = new Map<string, CutTotal & { readonly area: number }>()
  for (const line of lines) {
    const key = `${line.crossSection} ${line.colour}`
    const known = totals.get(key)
    totals.set(key, {
      ...{ crossSection: line.crossSection, colour: line.colour, area: line.crossSection_mm2 ?? 0 },
      pieces: (known?.pieces ?? 0) + line.count,
      cut_m: line.cut_m === null ? (known?.cut_m ?? null) : Number(((known?.cut_m ?? 0) + line.cut_m * line.count).toFixed(2)),
      unknown: (known?.unknown ?? 0) + (line.cut_m === null ? line.count : 0),
    })
  }
  return [...totals.values()]
    .sort((one, other) => other.area - one.area || (one.colour < other.colour ? -1 : 1))
    .map(({ area: _, ...total }) => total)
}

/** The allowance that a form asks for as `end` and `share`, the usual one where it is blank or wrong; and what to show in those fields. */
export function allowanceFrom(form: FormReader): {
  readonly allowance: Allowance
  readonly typed: { readonly end: string; readonly share: string }
} {
  const end_mm = form.number('end', { min: 0, max: 1000 }) ?? USUAL.end_mm
  const share_percent = form.number('share', { min: 0, max: 100 }) ?? USUAL.share_percent
  const faulty = new Set(form.faults.map((fault) => fault.field))
  return {
    allowance: { end_mm, share_percent },
    typed: {
      end: faulty.has('end') ? form.typed('end') : String(end_mm),
      share: faulty.has('share') ? form.typed('share') : String(share_percent),
    },
  }
}

/** "1.74 m": to the centimetre, as it is measured off. */
export function cutWords(line: Pick<CutLine, 'cut_m'>): string {
  return line.cut_m === null ? 'not known' : `${line.cut_m.toFixed(2)} m`
}

export const columns = [
  ...['number', 'conductor', 'count', 'cross_section', 'colour', 'length_m', 'cut_m'],
  ...['from', 'from_terminal', 'from_tool', 'to', 'to_terminal', 'to_tool', 'sleeve'],
]

/** The same lines for a spreadsheet: figures stay figures, what is not recorded stays empty. */
export function rows(lines: readonly CutLine[]): readonly Record<string, string | number | null>[] {
  return lines.map(({ number, name, count, crossSection, colour, length_m, cut_m, ends: [from, to], sleeve }) => ({
    ...{ number, conductor: name, count, cross_section: crossSection, colour, length_m, cut_m },
    ...{ from: from.at, from_terminal: from.terminal, from_tool: from.tool, to: to.at, to_terminal: to.terminal, to_tool: to.tool, sleeve },
  }))
}

/** 2 before 10; what has no number comes last. */
function byNumber(one: string, other: string): number {
  if (one === '' || other === '') return one === other ? 0 : one === '' ? 1 : -1
  return one.localeCompare(other, 'en', { numeric: true })
}
