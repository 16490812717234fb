/** Past 200 lines: every kind of difference has its words here. */
import type { compareFindings } from '../../engine/compare.ts'
import type { Finding, Report } from '../../engine/report.ts'
import { componentOf, terminalNameOf } from '../../records/changes/wiring.ts'
import type { Difference } from '../../records/compare-states.ts'
import type { SavedEntry } from '../../records/contract.ts'
import type { State } from '../../records/state.ts'
import type { FormReader } from '../../web/form.ts'
import { dateWords } from '../../web/format.ts'
import { beforeWords } from '../shared/day-view.ts'
import type { ShownFault } from '../shared/faults.ts'
import { fieldLabel, fieldValue } from '../shared/field-words.ts'
import { figuresOf, findingHref, ruleTitle, sameFinding } from '../shared/finding-view.ts'
import { counted } from '../shared/tried.ts'

type Line = { readonly name: string; readonly href: string; readonly words: string }
type Group = {
  readonly id: string
  readonly title: string
  readonly lines: readonly Line[]
  /** folded, so that a long list does not push the rest away */
  readonly folded: readonly Line[]
  readonly folds: string
  readonly more: string
}
type FindingRow = { readonly name: string; readonly href: string; readonly rule: string; readonly was: string; readonly is: string }
type FindingGroup = { readonly id: string; readonly title: string; readonly rows: readonly FindingRow[]; readonly more: string }
export type View = {
  readonly id: string
  readonly faults: readonly ShownFault[]
  readonly from: string
  readonly to: string
  readonly lead: string
  readonly before: string
  readonly groups: readonly Group[]
  readonly findings: readonly FindingGroup[]
  readonly days: readonly { readonly href: string; readonly label: string }[]
  readonly entries: readonly { readonly href: string; readonly title: string; readonly when: string }[]
  readonly moreEntries: string
  readonly wasLabel: string
  readonly isLabel: string
}

const SHOWN_LINES = 12
const MOST_LINES = 120
const MOST_FINDINGS = 20
/** a share of the limit: less is not worth a row, unless the verdict turned */
const NOTICED = 0.01
const MOST_ENTRIES = 20

type Given = {
  readonly vehicle: { readonly id: string; readonly firstOn: string | null }
  readonly from: string
  readonly to: string
  readonly today: string
  readonly form: FormReader
  readonly faults: readonly ShownFault[]
  readonly before: State
  readonly after: State
  readonly reports: { readonly before: Report; readonly after: Report }
  readonly differences: readonly Difference[]
  readonly findings: ReturnType<typeof compareFindings>
  readonly parts: ReadonlyMap<string, { readonly name: string }>
  /** that stand, newest first */
  readonly entries: readonly Pick<SavedEntry, 'id' | 'title' | 'effectiveOn'>[]
}

export function view(given: Given): View {
  const { vehicle, from, to, today, form, faults } = given
  const between = given.entries.filter((entry) => entry.effectiveOn > from && entry.effectiveOn <= to)
  const asked = faults.length === 0
  return {
    id: vehicle.id,
    faults,
    from: asked ? from : form.typed('from'),
    to: asked ? to : form.typed('to'),
    lead: asked ? leadOf(given) : '',
    before: asked && vehicle.firstOn !== null && from < vehicle.firstOn ? beforeWords(vehicle.firstOn) : '',
    groups: asked ? groupsOf(given) : [],
    findings: asked ? findingsOf(given) : [],
    days: asked
      ? [from, to].map((day) => ({
          href: `/vehicles/${vehicle.id}${day === today ? '' : `?on=${day}`}`,
          label: `As it stood on ${dateWords(day)}`,
        }))
      : [],
    entries: between
      .slice(0, MOST_ENTRIES)
      .map((entry) => ({ href: `/entries/${entry.id}`, title: entry.title, when: dateWords(entry.effectiveOn) })),
    moreEntries: between.length > MOST_ENTRIES ? `and ${between.length - MOST_ENTRIES} more` : '',
    wasLabel: dateWords(from),
    isLabel: dateWords(to),
  }
}

/** "Between 10 May 2023 and today: 2 fitted, 1 swapped; one finding appeared." */
function leadOf(given: Given): string {
  const { differences, findings, from, to } = given
  const when = from === to ? `on ${dateWords(from)}, which is one and the same day` : `between ${dateWords(from)} and ${dateWords(to)}`
  const count = (...kinds: readonly Difference['kind'][]) => differences.filter((one) => kinds.includes(one.kind)).length
  const done = [
    [count('fitted'), 'fitted'],
    [count('removed'), 'removed'],
    [count('swapped'), 'swapped'],
    [count('joined'), 'joined'],
    [count('unjoined'), 'unjoined'],
    [new Set(differences.flatMap((one) => (one.kind === 'rerouted' ? [one.component] : []))).size, 'rerouted'],
    [count('renamed'), 'renamed'],
    [count('described', 'zone', 'condition'), 'described anew'],
    [count('unfinished', 'due'), 'of what is to do'],
  ] as const
  const turned = [
    [findings.appeared.length, 'appeared'],
    [findings.cleared.length, 'cleared'],
    [findings.changed.length, 'changed'],
  ] as const
  const words = (counts: readonly (readonly [number, string])[]) =>
    counts.flatMap(([n, word]) => (n > 0 ? [`${n} ${word}`] : [])).join(', ')
  if (words(done) === '' && words(turned) === '') return `Nothing changed ${when}.`
  return `${when[0]?.toUpperCase()}${when.slice(1)}: ${words(done) || 'nothing done'}; findings: ${words(turned) || 'none turned'}.`
}

function groupsOf(given: Given): readonly Group[] {
  const { vehicle, after, before, differences, parts, to, today } = given
  const component = (key: string) => after.components.get(key) ?? before.components.get(key)
  const name = (key: string) => component(key)?.name ?? key
  const zone = (key: string) => after.zones.get(key)?.name ?? before.zones.get(key)?.name ?? key
  const part = (id: string) => parts.get(id)?.name ?? 'a part'
  const branch = (key: string) => `/vehicles/${vehicle.id}/components/${key}`
  const href = (key: string) => (after.components.has(key) ? `${branch(key)}${to === today ? '' : `?on=${to}`}` : `${branch(key)}/life`)
  const at = (key: string, words: string): Line => ({ name: name(key), href: href(key), words })
  const end = (terminal: string) => `${name(componentOf(terminal))} ${terminalNameOf(terminal)}`
  const set = (field: string, one: { readonly from: unknown; readonly to: unknown }) =>
    `${fieldLabel(field)} ${fieldValue(field, one.from, zone)} → ${fieldValue(field, one.to, zone)}`
  const whole = (one: { readonly from: object | null; readonly to: object | null }): string =>
    one.to === null
      ? 'no longer said'
      : one.from === null
        ? `new: ${
            fieldsOf(one.to)
              .map(([field, value]) => `${fieldLabel(field)} ${fieldValue(field, value, zone)}`)
              .join(', ') || 'nothing more said'
          }`
        : [...new Set([...fieldsOf(one.from), ...fieldsOf(one.to)].map(([field]) => field))]
            .map((field) => ({ field, from: valueIn(one.from, field), to: valueIn(one.to, field) }))
            .filter((field) => JSON.stringify(field.from) !== JSON.stringify(field.to))
            .map((field) => set(field.field, field))
            .join('; ')
  const lines: Readonly<Record<string, Line[]>> = {
    fitted: [],
    removed: [],
    swapped: [],
    rewired: [],
    renamed: [],
    described: [],
    todo: [],
  }
  for (const one of differences) {
    switch (one.kind) {
      case 'fitted':
      case 'removed':
        lines[one.kind]?.push(at(one.component.key, part(one.component.part)))
        break
      case 'swapped':
        lines.swapped?.push(at(one.component, `${part(one.from)} → ${part(one.to)}`))
        break
      case 'renamed':
        lines.renamed?.push(at(one.component, `was called ${one.from}`))
        break
      case 'rerouted':
        lines.rewired?.push(at(one.component, set(one.field, one)))
        break
      case 'joined':
      case 'unjoined':
        lines.rewired?.push({
          name: one.kind === 'joined' ? 'Joined' : 'Unjoined',
          href: '',
          words: `${end(one.join.from)} to ${end(one.join.to)}`,
        })
        break
      case 'described':
        lines.described?.push(
          one.of === 'component'
            ? at(one.key, set(one.field, one))
            : {
                name: one.of === 'vehicle' ? 'The vehicle' : `Join of ${one.key.split(' ').map(end).join(' and ')}`,
                href: '',
                words: set(one.field, one),
              },
        )
        break
      case 'zone':
      case 'condition':
        lines.described?.push({ name: `The ${one.kind} ${(one.to ?? one.from)?.name ?? one.key}`, href: '', words: whole(one) })
        break
      case 'unfinished':
        lines.todo?.push({ name: (one.to ?? one.from)?.text ?? one.key, href: '', words: one.to === null ? 'wiring entered' : 'left open' })
        break
      case 'due':
        lines.todo?.push({
          name: (one.to ?? one.from)?.what ?? one.key,
          href: '',
          words: one.to === null ? 'looked at, or no longer due' : 'set as due',
        })
    }
  }
  const titles: Readonly<Record<string, string>> = {
    ...{ fitted: 'Fitted', removed: 'Removed', swapped: 'Swapped', rewired: 'Rewired', renamed: 'Renamed', described: 'Described anew' },
    todo: 'To finish or look at',
  }
  return Object.entries(lines).flatMap(([id, all]) => {
    const folded = all.slice(SHOWN_LINES, MOST_LINES)
    const folds = folded.length === 0 ? '' : `${folded.length} more`
    return all.length === 0
      ? []
      : [
          {
            id,
            title: `${titles[id]}: ${all.length}`,
            lines: all.slice(0, SHOWN_LINES),
            folded,
            folds,
            more: moreOf(all.length, MOST_LINES),
          },
        ]
  })
}

function findingsOf(given: Given): readonly FindingGroup[] {
  const { vehicle, before, after, reports, findings, from, to, today } = given
  const name = (key: string) => after.components.get(key)?.name ?? before.components.get(key)?.name ?? key
  const words = (finding: Finding | undefined) => (finding ? `${finding.verdict} ${figuresOf(finding)}`.trim() : 'nothing to judge')
  const row = (finding: Finding): FindingRow => {
    const [was, is] = [sameFinding(reports.before.findings, finding), sameFinding(reports.after.findings, finding)]
    const day = is ? to : from
    return {
      name: name(finding.component),
      href: findingHref(finding, { vehicleId: vehicle.id, query: day === today ? '' : `?on=${day}` }),
      rule: ruleTitle(finding.rule),
      was: words(was),
      is: words(is),
    }
  }
  const moved = (one: { before: Finding; after: Finding }) => Math.abs((one.after.used ?? 0) - (one.before.used ?? 0))
  const noticed = findings.changed.filter((one) => moved(one) >= NOTICED || one.before.verdict !== one.after.verdict)
  const changed = noticed.sort((a, b) => moved(b) - moved(a)).map((one) => one.after)
  const groups = [
    { id: 'appeared', rows: findings.appeared, count: findings.appeared.length },
    { id: 'cleared', rows: findings.cleared, count: findings.cleared.length },
    { id: 'changed', rows: changed, count: findings.changed.length },
  ]
  return groups.flatMap(({ id, rows, count }) => {
    const more = count - Math.min(rows.length, MOST_FINDINGS)
    const moreWords = more === 0 ? '' : id === 'changed' ? `and ${more} more moved, most of them a little` : `and ${more} more`
    return count === 0
      ? []
      : [{ id, title: `${counted(count, 'finding')} ${id}`, rows: rows.slice(0, MOST_FINDINGS).map(row), more: moreWords }]
  })
}

function moreOf(count: number, most: number): string {
  return count > most ? `and ${count - most} more` : ''
}

function fieldsOf(thing: object): readonly (readonly [string, unknown])[] {
  return Object.entries(thing).filter(([field, value]) => !['key', 'name'].includes(field) && value !== undefined)
}

function valueIn(thing: object | null, field: string): unknown {
  return (thing as Readonly<Record<string, unknown>> | null)?.[field] ?? null
}
