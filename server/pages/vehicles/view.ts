import type { Report, Verdict } from '../../engine/report.ts'
import type { VehicleDocument } from '../../engine/vehicle.ts'
import type { State } from '../../records/state.ts'
import type { VehicleFacts } from '../../records/vehicles.ts'
import { dateWords, kilometres } from '../../web/format.ts'
import { type FindingView, findingView, worstWords } from '../shared/finding-view.ts'
import { leftWords } from '../shared/left-words.ts'

type Facts = { readonly vehicle: VehicleFacts; readonly document: VehicleDocument; readonly report: Report; readonly state: State }
export type Hit = { readonly href: string; readonly name: string; readonly where: string }
export type View = {
  readonly sought: string
  readonly hits: readonly Hit[]
  readonly vehicles: readonly {
    readonly id: string
    readonly name: string
    readonly system: string
    readonly odometer: string
    /** empty for one that is here */
    readonly left: string
    readonly worst: string
    readonly verdict: Verdict | 'nothing'
    readonly finding: FindingView | null
    readonly toDo: readonly { readonly href: string; readonly words: string }[]
    readonly latest: readonly { readonly id: string; readonly when: string; readonly title: string }[]
  }[]
}

export function view(given: { readonly facts: readonly Facts[]; readonly sought: string; readonly hits: readonly Hit[] }): View {
  return {
    sought: given.sought,
    hits: given.hits.slice(0, 20),
    vehicles: given.facts.map(({ vehicle, document, report, state }) => {
      // What rests on a guess comes after what is itself near its limit.
      const first = report.findings.find((one) => one.rule !== 'rating-evidence' && one.verdict !== 'clear') ?? report.findings[0]
      const names = new Map(document.components.map((component) => [component.key, component.name]))
      return {
        id: vehicle.id,
        name: vehicle.name,
        system: `${vehicle.systemVoltage_V} V`,
        odometer: vehicle.odometer_km === null ? '' : kilometres(vehicle.odometer_km),
        left: leftWords(state),
        worst: worstWords(report),
        verdict: report.findings[0]?.verdict ?? 'nothing',
        finding:
          first && first.verdict !== 'clear'
            ? findingView(first, { vehicleId: vehicle.id, name: (key) => names.get(key) ?? key, report })
            : null,
        toDo: [
          ...[...state.unfinished.values()].map((one) => ({
            href: `/vehicles/${vehicle.id}/unfinished/${one.key}`,
            words: `Enter the wiring: ${one.text}`,
          })),
          ...[...state.due.values()].map((one) => ({
            href: `/vehicles/${vehicle.id}/due/${one.key}`,
            words: `${one.what}${one.on === undefined ? '' : `, ${dateWords(one.on)}`}`,
          })),
        ].slice(0, 4),
        latest: vehicle.latest.map((entry) => ({ id: entry.id, when: dateWords(entry.effectiveOn), title: entry.title })),
      }
    }),
  }
}

/** Components whose name, key or position says what is sought; an exact name or position alone if there is one. */
export function hitsOf(facts: readonly Facts[], sought: string): readonly Hit[] {
  const wanted = sought.toLowerCase()
  const all = facts.flatMap(({ vehicle, document }) =>
    document.components.map((component) => ({
      words: [component.name, component.key, component.position ?? ''].map((one) => one.toLowerCase()),
      hit: { href: `/vehicles/${vehicle.id}/components/${component.key}`, name: component.name, where: vehicle.name },
    })),
  )
  const exact = all.filter((one) => one.words.includes(wanted))
  return (exact.length > 0 ? exact : all.filter((one) => one.words.some((word) => word.includes(wanted)))).map((one) => one.hit)
}
