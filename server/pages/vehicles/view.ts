import type { Verdict } from '../../engine/report.ts'
import type { Place } from '../../records/search.ts'
import type { VehicleFacts } from '../../records/vehicles.ts'
import { dateWords, kilometres } from '../../web/format.ts'
import { type FindingView, findingView, worstWords } from '../shared/finding-view.ts'
import { leftWords } from '../shared/left-words.ts'
import type { Span } from '../shared/paging.ts'

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
  /** empty where all of them are on one page */
  readonly count: string
  readonly before: string
  readonly after: string
}

export function view(given: {
  readonly vehicles: readonly VehicleFacts[]
  readonly span: Span
  readonly sought: string
  readonly places: readonly Place[]
}): View {
  const { span } = given
  return {
    sought: given.sought,
    hits: given.places.map(hitOf),
    vehicles: given.vehicles.map(vehicleView),
    count: span.before === '' && span.after === '' ? '' : span.count,
    before: span.before,
    after: span.after,
  }
}

export function hitOf(place: Place): Hit {
  return { href: `/vehicles/${place.vehicleId}/components/${place.key}`, name: place.name, where: place.vehicleName }
}

function vehicleView(vehicle: VehicleFacts): View['vehicles'][number] {
  const { headline } = vehicle
  return {
    id: vehicle.id,
    name: vehicle.name,
    system: `${vehicle.systemVoltage_V} V`,
    odometer: vehicle.odometer_km === null ? '' : kilometres(vehicle.odometer_km),
    left: leftWords(vehicle.left),
    worst: worstWords(vehicle.verdicts),
    verdict: vehicle.worst,
    finding: headline ? findingView(headline.finding, { vehicleId: vehicle.id, name: () => headline.name, report: headline }) : null,
    toDo: [
      ...vehicle.unfinished.map((one) => ({
        href: `/vehicles/${vehicle.id}/unfinished/${one.key}`,
        words: `Enter the wiring: ${one.text}`,
      })),
      ...vehicle.due.map((one) => ({
        href: `/vehicles/${vehicle.id}/due/${one.key}`,
        words: `${one.what}${one.on === undefined ? '' : `, ${dateWords(one.on)}`}`,
      })),
    ].slice(0, 4),
    latest: vehicle.latest.map((entry) => ({ id: entry.id, when: dateWords(entry.effectiveOn), title: entry.title })),
  }
}
