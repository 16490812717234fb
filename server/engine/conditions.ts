/** What is on, what works and what is closed in a condition. */
import type { Element, Network } from './network.ts'
import type { Condition } from './vehicle.ts'

export type ConditionState = {
  readonly closed: Uint8Array
  /** elements that draw: loads that are on, coils that work */
  readonly drawing: ReadonlySet<number>
  readonly faults: readonly string[]
}

/** The document's conditions; where it has none, everything on with the engine off, and running where there is an alternator. */
export function conditionsOf(network: Network): { readonly conditions: readonly Condition[]; readonly made: boolean } {
  const stated = network.doc.conditions ?? []
  if (stated.length > 0) return { conditions: stated, made: false }
  const alternator = [...network.components.values()].some((component) => kindOf(network, component.key) === 'alternator')
  const off: Condition = { key: 'all-on', name: 'everything on, engine off', engine: 'off' }
  return {
    conditions: alternator ? [off, { key: 'all-on-running', name: 'everything on, engine running', engine: 'running' }] : [off],
    made: true,
  }
}

/** Whether a load draws in a condition: named, or by default all but starters (in cranking: starters and essential loads). */
export function isOn(network: Network, condition: Condition, load: string): boolean {
  if (condition.open?.includes(load)) return false
  const ratings = network.parts.get(network.components.get(load)?.part ?? '')?.ratings ?? {}
  if (condition.on) return condition.on.includes(load) || (condition.engine === 'cranking' && ratings.starter === true)
  return condition.engine === 'cranking' ? ratings.starter === true || ratings.essential === true : ratings.starter !== true
}

/**
 * Contacts and coils by a monotone fixpoint: a relay works when a load behind its make contact is on; its coil then draws,
 * and what feeds the coil works too. Never decided by voltage.
 */
export function conditionState(given: {
  readonly network: Network
  readonly condition: Condition
  readonly loadsBehind: (element: number) => readonly number[]
}): ConditionState {
  const { network, condition, loadsBehind } = given
  const drawing = new Set<number>()
  network.elements.forEach((element, at) => {
    if (
      element.kind === 'load' &&
      element.component !== null &&
      kindOf(network, element.component) !== 'converter' &&
      isOn(network, condition, element.component)
    )
      drawing.add(at)
  })
  const relays = [...network.components.values()]
    .filter((component) => kindOf(network, component.key) === 'relay')
    .map((component) => component.key)
  const working = new Set<string>()
  for (let moved = true; moved; ) {
    moved = false
    for (const relay of relays) {
      if (working.has(relay) || condition.open?.includes(relay)) continue
      const own = network.elementsOf.get(relay) ?? []
      const needed = own.some(
        (at) =>
          (network.elements[at] as Element).kind === 'contact-make' &&
          loadsBehind(at).some((load) => drawing.has(load) && !own.includes(load)),
      )
      if (!needed) continue
      working.add(relay)
      moved = true
      for (const at of own) if ((network.elements[at] as Element).kind === 'coil') drawing.add(at)
    }
  }
  const closed = new Uint8Array(network.elements.length).fill(1)
  const faults: string[] = []
  network.elements.forEach((element, at) => {
    if (element.component !== null && condition.open?.includes(element.component) && element.kind !== 'load' && element.kind !== 'source')
      closed[at] = 0
  })
  for (const relay of relays) {
    const own = (network.elementsOf.get(relay) ?? []).map((at) => ({ at, element: network.elements[at] as Element }))
    const makes = own.filter((one) => one.element.kind === 'contact-make')
    const breaks = own.filter((one) => one.element.kind === 'contact-break' && network.joinsAt.has(one.element.to))
    if (breaks.length === 0 || !makes.some((one) => network.joinsAt.has(one.element.to))) continue
    const works = working.has(relay)
    for (const one of works ? breaks : makes) closed[one.at] = 0
    const behind = (ones: typeof own) => new Set(ones.flatMap((one) => [...loadsBehind(one.at)]))
    const [onMake, onBreak] = [behind(makes), behind(breaks)]
    if (works && [...onBreak].some((load) => drawing.has(load) && !onMake.has(load))) {
      faults.push(`With ${condition.name}, ${network.components.get(relay)?.name ?? relay} is needed on 87 and on 87a at once.`)
    }
  }
  return { closed, drawing, faults }
}

function kindOf(network: Network, component: string): string | undefined {
  return network.parts.get(network.components.get(component)?.part ?? '')?.kind
}
