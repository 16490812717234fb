import type { Finding, Report } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import type { SavedEntry } from '../../records/contract.ts'
import { dayBefore } from '../../records/day-before.ts'
import type { LastSave } from '../../records/versions.ts'
import { dateWords, figureOr, instantWords } from '../../web/format.ts'
import type { ShownFault } from '../shared/faults.ts'
import { type FindingView, figuresOf, findingHref, findingView, sameFinding } from '../shared/finding-view.ts'
import { moneyWords } from '../shared/money-words.ts'
import { type UndoView, undoView } from '../shared/undo-view.ts'
import type { VersionsView } from './versions-view.ts'

export type View = {
  readonly id: string
  readonly vehicleId: string
  readonly facts: readonly { readonly label: string; readonly value: string }[]
  readonly text: string
  readonly withdrawn: boolean
  readonly mayEdit: boolean
  readonly mayReturn: boolean
  readonly laterVersion: string
  readonly isCorrection: boolean
  readonly versions: VersionsView | null
  /** it is what whoever looks saved last */
  readonly undo: UndoView | null
  /** further down, where the press at the top is not the same */
  readonly offersEarlier: boolean
  readonly offersWithdrawal: boolean
  readonly changedHref: string
  readonly sentences: readonly string[]
  readonly moreSentences: string
  readonly lead: string
  readonly appeared: readonly FindingView[]
  readonly cleared: readonly FindingView[]
  readonly changed: readonly FindingView[]
  readonly moreChanged: string
  readonly thenAndNow: readonly { readonly says: string; readonly was: string; readonly now: string }[]
  readonly duplicate: string
  readonly faults: readonly ShownFault[]
}

const MOST_SENTENCES = 60
const MOST_CHANGED = 8
/** a share of the limit: less is not worth a line */
const NOTICED = 0.01

export function view(given: {
  readonly entry: SavedEntry
  readonly vehicle: { readonly id: string }
  readonly marks: { readonly corrects: string | null; readonly withdrawnBy: string | null; readonly replacedBy: string | null }
  readonly document: VehicleDocument
  readonly report: Report
  /** what the day of the entry is judged now: only a finding in it has a page of its own */
  readonly onItsDay: Report
  readonly faults: readonly ShownFault[]
  readonly last: LastSave | null
  readonly versions: VersionsView | null
  readonly timeZone: string
  readonly currency: string
}): View {
  const { entry, vehicle, marks, document, report, onItsDay } = given
  const names = new Map(document.components.map((one) => [one.key, one.name]))
  const name = (key: string) => names.get(key) ?? key
  const { shown } = entry
  const tightest = shown?.tightestClear
  const print = (finding: Finding, before?: Finding): FindingView => ({
    ...findingView(finding, { vehicleId: vehicle.id, name, before }),
    workedHref: sameFinding(onItsDay.findings, finding)
      ? findingHref(finding, { vehicleId: vehicle.id, query: `?on=${entry.effectiveOn}` })
      : '',
  })
  const moved = (one: { before: Finding; after: Finding }) => Math.abs((one.after.used ?? 0) - (one.before.used ?? 0))
  const changed = (shown?.changed ?? []).filter((one) => moved(one) >= NOTICED).sort((a, b) => moved(b) - moved(a))
  const mayEdit = !entry.withdrawn && marks.replacedBy === null
  const undo = given.last?.entryId === entry.id && given.last.undo !== 'bring-back' ? undoView(given.last) : null
  const unnoticed = (shown?.changed ?? []).length - Math.min(changed.length, MOST_CHANGED)
  return {
    id: entry.id,
    vehicleId: vehicle.id,
    facts: [
      { label: 'When', value: dateWords(entry.effectiveOn) },
      { label: 'Odometer', value: entry.odometer_km === null ? 'not said' : `${entry.odometer_km} km` },
      { label: 'Cost', value: entry.cost_minor === null ? 'not said' : moneyWords(entry.cost_minor, given.currency) },
      { label: 'Recorded', value: `${instantWords(entry.recordedAt, given.timeZone)}, ${entry.author}` },
    ],
    text: entry.text,
    withdrawn: entry.withdrawn && marks.replacedBy === null,
    mayEdit,
    mayReturn: marks.withdrawnBy !== null,
    laterVersion: marks.replacedBy === null ? '' : `/entries/${marks.replacedBy}`,
    isCorrection: marks.corrects !== null,
    versions: given.versions,
    undo,
    offersEarlier: mayEdit && marks.corrects !== null && undo?.action !== `/entries/${entry.id}/earlier-versions`,
    offersWithdrawal: mayEdit && undo?.action !== `/entries/${entry.id}/withdrawals`,
    changedHref: `/vehicles/${vehicle.id}/compare?from=${dayBefore(entry.effectiveOn)}&to=${entry.effectiveOn}`,
    sentences: entry.sentences.slice(0, MOST_SENTENCES),
    moreSentences: entry.sentences.length > MOST_SENTENCES ? `and ${entry.sentences.length - MOST_SENTENCES} more` : '',
    lead: !shown
      ? ''
      : shown.appeared.length > 0
        ? `${shown.appeared.length === 1 ? 'One finding is new' : `${shown.appeared.length} findings are new`}.`
        : `Nothing gave way.${tightest ? ` Tightest: ${name(tightest.component)}, ${figuresOf(tightest)}.` : ''}`,
    appeared: (shown?.appeared ?? []).slice(0, 40).map((finding) => print(finding)),
    cleared: (shown?.cleared ?? [])
      .slice(0, 40)
      .map((finding) => ({ ...print(finding), verdict: `was ${finding.verdict}`, remedy: '', scale: null })),
    changed: changed.slice(0, MOST_CHANGED).map(({ before, after }) => ({
      ...print(after, before),
      remedy: '',
      says: `${figureOr(before.value, before.unit)} before, ${figureOr(after.value, after.unit)} since.`,
      was: '',
    })),
    moreChanged: unnoticed > 0 ? `${changed.length > 0 ? 'And ' : ''}${unnoticed} more moved a little, without a change of verdict.` : '',
    thenAndNow: (shown?.findings ?? []).slice(0, 40).map((finding) => {
      const now = sameFinding(report.findings, finding)
      return {
        says: finding.says,
        was: `${finding.verdict} ${figuresOf(finding)}`,
        now: now ? `${now.verdict} ${figuresOf(now)}` : 'no longer judged',
      }
    }),
    duplicate: `/vehicles/${entry.vehicleId}/entries/new?like=${entry.id}`,
    faults: given.faults,
  }
}
