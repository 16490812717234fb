/** What hangs on each fuse and breaker: the nearest one ahead of a thing is the one that has to protect it. */
import type { Circuit } from './circuit.ts'
import { clearingsOf } from './clearing.ts'

export type Protected = {
  readonly device: string
  /** loads, and relays by their coils, that no further device stands before */
  readonly loads: readonly string[]
  /** batteries it lies as far from as from another: it parts them, and belongs to both */
  readonly parts: readonly string[]
  /** fuses and breakers that follow next */
  readonly devices: readonly string[]
  /** feed conductors up to the next device */
  readonly conductors: readonly string[]
  /** the smallest of those whose cross-section is known */
  readonly smallest: { readonly conductor: string; readonly crossSection_mm2: number } | null
  /** those whose cross-section is not known: one of them may be smaller */
  readonly unsized: readonly string[]
  /** the longest time in s in which a short at the far end of one of them is sure to be ended; null where it is not sure for each */
  readonly clearing_s: number | null
  /** conductors whose short is not sure to be ended, or of which that is not known */
  readonly notSure: readonly string[]
}

/**
 * One answer for each fuse and breaker, in the document's order. Feeds only: a return is protected by what stands before its load. Where
 * several sources can feed a device, what is behind it is seen from the one it stands nearest to.
 */
export function protectedBy(circuit: Circuit): readonly Protected[] {
  const devices = circuit.componentsOf('fuse', 'breaker')
  const found = new Map(
    devices.map((device) => [device, { loads: new Set<string>(), devices: new Set<string>(), conductors: new Set<string>() }]),
  )
  const sources = new Map(devices.map((device) => [device, nearestSources(circuit, device)]))
  const aheadOf = (component: string) => nearestAhead(circuit, { component, sources })
  for (const conductor of circuit.componentsOf('conductor'))
    if (circuit.isFeed(conductor) && !circuit.isReturn(conductor))
      for (const device of aheadOf(conductor)) found.get(device)?.conductors.add(conductor)
  for (const device of devices) {
    for (const ahead of aheadOf(device)) found.get(ahead)?.devices.add(device)
    for (const load of circuit.loadsBehind(device))
      if (lastInFeed(circuit, { load, sources }).includes(device)) found.get(device)?.loads.add(load)
  }
  return devices.map((device) => {
    const behind = found.get(device) as { loads: Set<string>; devices: Set<string>; conductors: Set<string> }
    const conductors = [...behind.conductors]
    const sized = conductors.map((conductor) => ({ conductor, known: circuit.crossSection_mm2(conductor) }))
    const smallest = sized.reduce<Protected['smallest']>(
      (least, { conductor, known }) =>
        known && (!least || known.value < least.crossSection_mm2) ? { conductor, crossSection_mm2: known.value } : least,
      null,
    )
    const batteries = (sources.get(device) ?? []).filter((source) => circuit.kindOf(source) === 'battery')
    return {
      device,
      loads: [...behind.loads].sort(),
      parts: batteries.length > 1 ? batteries : [],
      devices: [...behind.devices].sort(),
      conductors,
      smallest,
      unsized: sized.filter((one) => !one.known).map((one) => one.conductor),
      ...clearingBehind(circuit, conductors),
    }
  })
}

/** The sources with fewest devices between them and this one. An alternator feeds from the far end and limits itself. */
function nearestSources(circuit: Circuit, device: string): readonly string[] {
  const counted = feedersOf(circuit, device).map((source) => ({ source, count: devicesTo(circuit, { source, component: device }).length }))
  const least = Math.min(...counted.map((one) => one.count))
  return counted.filter((one) => one.count === least).map((one) => one.source)
}

function feedersOf(circuit: Circuit, component: string): readonly string[] {
  return circuit.sourcesOf(component).filter((source) => circuit.kindOf(source) !== 'alternator')
}

function devicesTo(circuit: Circuit, given: { readonly source: string; readonly component: string }): readonly string[] {
  return circuit.devicesBetween(given.source, given.component).filter((device) => device !== given.component)
}

type Sources = ReadonlyMap<string, readonly string[]>

/** The device nearest to the component on its way from each source that this device belongs to. */
function nearestAhead(circuit: Circuit, given: { readonly component: string; readonly sources: Sources }): readonly string[] {
  const { component, sources } = given
  return feedersOf(circuit, component).flatMap((source) => {
    const last = devicesTo(circuit, { source, component }).at(-1)
    return last !== undefined && sources.get(last)?.includes(source) ? [last] : []
  })
}

function lastInFeed(circuit: Circuit, given: { readonly load: string; readonly sources: Sources }): readonly string[] {
  const { load, sources } = given
  return feedersOf(circuit, load).flatMap((source) => {
    const feed = circuit.feedFrom({ source, load })
    const last = feed.findLast((key) => ['fuse', 'breaker'].includes(circuit.kindOf(key)))
    return last !== undefined && sources.get(last)?.includes(source) ? [last] : []
  })
}

function clearingBehind(circuit: Circuit, conductors: readonly string[]): Pick<Protected, 'clearing_s' | 'notSure'> {
  const notSure: string[] = []
  let longest_s = 0
  for (const conductor of conductors) {
    const clearings = clearingsOf(circuit, conductor)
    const sure =
      clearings.length > 0 && clearings.every((one) => one.opens !== null && one.missing.length === 0 && one.fault.missing.length === 0)
    if (!sure) notSure.push(conductor)
    else longest_s = Math.max(longest_s, ...clearings.map((one) => one.opens?.longest_s ?? 0))
  }
  return { clearing_s: conductors.length > 0 && notSure.length === 0 ? longest_s : null, notSure }
}
