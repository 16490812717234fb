/** What saving would do, as every form that can be tried prints it. */
import { compareFindings } from '../../engine/compare.ts'
import type { Finding } from '../../engine/report.ts'
import type { Preview, TriedChain } from '../../records/journal.ts'
import type { ShownFault } from './faults.ts'
import { type FindingView, figuresOf, findingView, sameFinding } from './finding-view.ts'

export type Tried = {
  readonly records: string
  readonly verdict: string
  readonly worst: string
  readonly appeared: readonly FindingView[]
  readonly appearedCount: string
  readonly others: readonly { readonly label: string; readonly lines: readonly string[] }[]
}

/** What trying came to: faults of the form, or what saving would do. */
export type Answer = { readonly faults: readonly ShownFault[]; readonly tried: Tried | null }

export function triedView(seen: Preview, given: { readonly vehicleId: string; readonly records?: string }): Tried {
  const { appeared, cleared, changed } = compareFindings(seen.before, seen.after)
  const names = new Map(seen.document.components.map((component) => [component.key, component.name]))
  const name = (key: string) => names.get(key) ?? key
  const first = appeared[0]
  const standing = seen.after.findings[0]
  return {
    records: given.records ?? '',
    verdict: first?.verdict ?? '',
    worst: first
      ? first.says
      : `Nothing would give way.${standing && standing.verdict !== 'clear' ? ` The worst stays as it is: ${standing.says}` : ''}`,
    appeared: appeared.slice(0, 12).map((finding) =>
      findingView(finding, {
        ...{ vehicleId: given.vehicleId, name, report: seen.after, hasPage: false },
        before: sameFinding(seen.before.findings, finding),
      }),
    ),
    appearedCount: counted(appeared.length, 'new finding'),
    others: [
      { label: `${cleared.length} cleared`, lines: cleared.slice(0, 12).map((finding) => `${finding.verdict} no more: ${finding.says}`) },
      { label: `${changed.length} changed`, lines: changed.slice(0, 12).map((one) => movedLine(one, name)) },
    ].filter((group) => group.lines.length > 0),
  }
}

/** "Lamp fuse: 26.1 of 30 A, before 12 of 30 A." */
export function movedLine(one: { readonly before: Finding; readonly after: Finding }, name: (key: string) => string): string {
  return `${name(one.after.component)}: ${figuresOf(one.after)}, before ${figuresOf(one.before)} (${one.after.verdict}).`
}

/** "Records 1 fuse, 1 relay, 1 load, 3 conductors, 9 joins." */
export function recordsWords(tried: TriedChain): string {
  const things = tried.records.kinds.map((one) => counted(one.count, one.kind))
  return `Would record ${[...things, counted(tried.records.joins, 'join')].join(', ')}.`
}

export function counted(count: number, thing: string): string {
  return `${count} ${thing}${count === 1 ? '' : thing.endsWith('s') || thing.endsWith('h') ? 'es' : 's'}`
}
