/** The current picture in strips, and in tables what it says: for its own page and for build pages. */
import { type CarriedFacts, currentPicture, NOTHING_A } from '../../drawing/current-picture.ts'
import { linksOf } from '../../drawing/links.ts'
import type { FeedRow, Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import { dateWords, figure } from '../../web/format.ts'
import { partWords } from './wiring-words.ts'

type Row = {
  readonly name: string
  readonly href: string
  readonly what: string
  readonly current: string
  readonly length: string
  readonly drop: string
  readonly verdict: string
  readonly alsoFed: string
}
export type CurrentStrips = {
  readonly nothing: string
  readonly troubles: readonly string[]
  readonly strips: readonly { readonly number: string; readonly svg: string; readonly isTall: boolean }[]
  readonly rows: readonly Row[]
  /** what the tree of the picture leaves out: other feeds of a mesh, and what carries nothing */
  readonly others: readonly Row[]
}

/** What feeds, draws or makes another voltage has volts across it that are not lost. */
const LOSES_NONE: readonly string[] = ['battery', 'alternator', 'charger', 'converter', 'load', 'pump']

/** `document` names things, `report` and `rows` are of the same wiring; `verdict` says what the check found of a component. */
export function currentStrips(given: {
  readonly vehicle: string
  /** YYYY-MM-DD */
  readonly on: string
  readonly document: VehicleDocument
  readonly report: Report
  readonly condition: { readonly index: number; readonly name: string }
  readonly rows: readonly FeedRow[]
  /** a component's page; empty where there is none */
  readonly href: (key: string) => string
  readonly verdict: (key: string) => string
}): CurrentStrips {
  const { document, report, condition, rows } = given
  const linked = linksOf(document)
  const solved = report.conditions[condition.index]
  const all = new Map([...linked.symbols, ...linked.conductors])
  const carriedByRow = new Map(rows.map((row) => [row.component, row]))
  const current_A = (key: string) => solved?.components[key]?.current_A ?? carriedByRow.get(key)?.current_A ?? null
  const isLeast = (key: string) => solved?.components[key]?.atLeast ?? carriedByRow.get(key)?.atLeast ?? false
  const name = (key: string) => all.get(key)?.component.name ?? key
  /** A bound of nothing bounds nothing. */
  const isOpen = (key: string) => isLeast(key) && Math.abs(current_A(key) ?? 0) < NOTHING_A
  const rowOf = (key: string): Row => {
    const { component, part } = all.get(key) as NonNullable<ReturnType<typeof all.get>>
    const amperes = current_A(key)
    const drop = solved?.components[key]?.drop_V ?? null
    return {
      name: component.name,
      href: given.href(key),
      what: partWords(part),
      current: amperes === null || isOpen(key) ? 'not known' : `${isLeast(key) ? '≥ ' : ''}${figure(Math.abs(amperes), 'A')}`,
      length: part.kind === 'conductor' && component.length_m !== undefined ? figure(component.length_m, 'm') : '',
      drop:
        drop === null || LOSES_NONE.includes(part.kind)
          ? ''
          : isOpen(key)
            ? 'not known'
            : `${isLeast(key) ? '≥ ' : ''}${figure(Math.abs(drop), 'V')}`,
      verdict: given.verdict(key),
      alsoFed: (carriedByRow.get(key)?.alsoFedThrough ?? []).map(name).join(', '),
    }
  }
  const facts = (key: string): CarriedFacts => {
    const row = rowOf(key)
    return {
      ...{ href: row.href, title: titleOf(row), name: row.name, figure: row.current, verdict: row.verdict },
      current_A: current_A(key) ?? 0,
      isLeast: current_A(key) === null || isLeast(key),
      length_m: row.length === '' ? null : (all.get(key)?.component.length_m ?? null),
    }
  }
  const title = (n: number, of: number) =>
    `Currents of ${given.vehicle}, ${condition.name}, as of ${dateWords(given.on)}${of > 1 ? `, strip ${n} of ${of}` : ''}`
  const describes =
    'From the sources on top down through fuses and contacts to the loads, and from these down to the grounds and back. Lines are as thick as their current: dashed where there is none, between two thin ones where more may flow, two thin ones alone where nothing is known. The table below says the same in words.'
  const strips = solved?.solved ? currentPicture({ linked, rows, facts, title, describes }) : []
  const shown = new Set(strips.flatMap((strip) => strip.shown))
  return {
    nothing: nothingWords(document, strips.length, solved?.solved === true),
    troubles: solved?.faults ?? [],
    strips: strips.map(({ number, svg, isTall }) => ({ number: String(number), svg, isTall })),
    rows: inOrder(rows, shown).map(rowOf),
    others: strips.length === 0 ? [] : [...all.keys()].filter((key) => !shown.has(key)).map(rowOf),
  }
}

/** Feed first, each conductor before what it leads to; then the returns. */
function inOrder(rows: readonly FeedRow[], shown: ReadonlySet<string>): readonly string[] {
  return [...new Set([...rows.flatMap((row) => [...row.through, row.component]), ...shown])].filter((key) => shown.has(key))
}

/** What a shape is called: the cells of its row, one after the other. */
function titleOf(row: Row): string {
  const { what, current, length, drop, verdict, alsoFed } = row
  const cells = [
    what,
    current,
    length,
    drop === '' ? '' : drop === 'not known' ? 'volts lost not known' : `${drop} lost`,
    verdict,
    alsoFed === '' ? '' : `also fed through ${alsoFed}`,
  ]
  return `${row.name}: ${cells.filter((one) => one !== '').join('; ')}`
}

/** "over", "tight", "unknown", or nothing. */
export function verdictOf(report: Report, key: string): string {
  const findings = report.findings.filter((finding) => finding.component === key && finding.rule !== 'rating-evidence')
  return ['over', 'tight', 'unknown'].find((verdict) => findings.some((finding) => finding.verdict === verdict)) ?? ''
}

function nothingWords(document: VehicleDocument, strips: number, isSolved: boolean): string {
  if (document.components.length === 0) return 'Nothing is recorded yet, so no current flows.'
  if (!isSolved) return 'This condition could not be solved, so there are no currents to draw.'
  return strips === 0 ? 'No source is recorded, so no feed can be followed.' : ''
}
