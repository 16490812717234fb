/** Which terminals closed wires tie together, and whether a source feeds two of them. */
import { type Element, isWire, type Network } from './network.ts'
import { Union } from './union.ts'

/** True where one of these sources has its positive end on the first terminal's net and its negative end on the second's. */
export function isFed(
  network: Network,
  closed: Uint8Array,
  sources: readonly { readonly element: number }[],
  [plus, minus]: readonly [number, number],
): boolean {
  const nets = netsOf(network, closed)
  return sources.some((source) => {
    const end = network.elements[source.element] as Element
    return nets.find(end.from) === nets.find(plus) && nets.find(end.to) === nets.find(minus)
  })
}

const netsByClosed = new WeakMap<Uint8Array, Union>()

/** Terminals that closed wires and diodes tie together, whatever their resistance. Kept with `closed`, which is never written again. */
export function netsOf(network: Network, closed: Uint8Array): Union {
  const known = netsByClosed.get(closed)
  if (known) return known
  const nets = tied(network, closed, (element) => isWire(element) || element.kind === 'diode')
  netsByClosed.set(closed, nets)
  return nets
}

/** Terminals that are one node: those of a one-node part, and those that closed wires of 0 Ω tie together. */
export function mergedNodes(network: Network, closed: Uint8Array): Union {
  return tied(network, closed, (element) => isWire(element) && element.ohm === 0)
}

function tied(network: Network, closed: Uint8Array, ties: (element: Element) => boolean): Union {
  const union = new Union(network.terminals.length)
  for (const terminals of network.oneNode.values()) for (const terminal of terminals) union.join(terminals[0] as number, terminal)
  network.elements.forEach((element, at) => {
    if (closed[at] && ties(element)) union.join(element.from, element.to)
  })
  return union
}
