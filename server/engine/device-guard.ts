/** What stands between a source and a conductor, and what it lets that conductor carry. */
import type { Circuit } from './circuit.ts'
import { conductorLimit } from './conductor-limit.ts'
import type { Grade } from './vehicle.ts'

export type DeviceGuard = {
  readonly kind: 'device'
  readonly source: string
  /** the least current, A in one conductor, that a device of known rating (or a source that limits itself) lets pass; null where none is known */
  readonly value_A: number | null
  readonly device: string | null
  readonly grade: Grade
  readonly unrated: readonly string[]
}
/** `bare`: nothing before its loads; `lead`: an alternator’s, seen from the battery; `length`: a device follows, so how far it runs counts */
export type Guard = DeviceGuard | { readonly kind: 'bare' | 'lead' | 'length'; readonly device: null; readonly source: string }

/** What stands between each source and the conductor; protection, clearing and withstand all ask. */
export function guardsOf(circuit: Circuit, component: string): readonly Guard[] {
  return circuit.keep('guards', component, () =>
    circuit.sourcesOf(component).flatMap((source) => guardOf({ circuit, source, component }) ?? []),
  )
}

/** Whether the conductor bears all that the devices ahead of it let pass for ever: up to its ampacity. */
export function bearsItsDevices(circuit: Circuit, conductor: string): boolean {
  const { ampacity_A } = conductorLimit(circuit, conductor)
  const devices = guardsOf(circuit, conductor).flatMap((guard) => (guard.kind === 'device' ? [guard.value_A] : []))
  return ampacity_A !== null && devices.length > 0 && devices.every((value_A) => value_A !== null && value_A <= ampacity_A * (1 + 1e-9))
}

/** What stands between one source and the conductor. Null where that source asks for nothing there. */
function guardOf(given: { readonly circuit: Circuit; readonly source: string; readonly component: string }): Guard | null {
  const { circuit, source, component } = given
  // An alternator limits its own current: its lead is judged from the battery's side.
  if (circuit.kindOf(source) === 'alternator') return null
  const devices = circuit.devicesBetween(source, component)
  const isBattery = circuit.kindOf(source) === 'battery'
  if (devices.length === 0 && isBattery) {
    const fed = circuit.loadsBehind(component).map((load) => circuit.feedFrom({ source, load }))
    if (fed.every((feed) => !feed.includes(component)))
      return circuit.isAlternatorLead(component) ? { kind: 'lead', device: null, source } : null
    return { kind: fed.every((feed) => isDeviceAfter({ circuit, feed, component })) ? 'length' : 'bare', device: null, source }
  }
  const shares = circuit.isPlainFeed({ source, component }) ? null : circuit.testCurrent({ source, conductor: component })
  const own = (shares?.(component) ?? 1) / (circuit.component(component).parallel ?? 1)
  let least: { value_A: number; device: string; grade: Grade } | null = null
  const unrated: string[] = []
  // What a converter or a charger gives at most limits it like a device.
  for (const device of isBattery ? devices : [...devices, source]) {
    const through = device === source ? 1 : (shares?.(device) ?? 1)
    if (through <= 1e-9) continue
    const rated = circuit.rating(device, device === source ? 'output_A' : 'rated_A')
    if (!rated) unrated.push(device)
    else if (!least || (rated.value * own) / through < least.value_A)
      least = { value_A: (rated.value * own) / through, device, grade: rated.grade }
  }
  if (!least) return { kind: 'device', source, value_A: null, device: null, grade: 'assumed', unrated }
  return { kind: 'device', source, ...least, unrated }
}

/** Whether a device follows on that feed, before its load: then how far the conductor runs unfused is what counts. */
function isDeviceAfter(given: { readonly circuit: Circuit; readonly feed: readonly string[]; readonly component: string }): boolean {
  const { circuit, feed, component } = given
  const at = feed.indexOf(component)
  return at < 0 || feed.slice(at + 1).some((key) => circuit.kindOf(key) === 'fuse' || circuit.kindOf(key) === 'breaker')
}
