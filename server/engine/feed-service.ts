/** Which conductors feed loads from which battery: the rules on protection judge only those. */
import type { Circuit } from './circuit.ts'

/** Feeds of starters have no fuse by custom and by law; what is a return is judged with its load. */
export function isStarterOrReturn(circuit: Circuit, conductor: string): boolean {
  return !circuit.isFeed(conductor) || circuit.isReturn(conductor) || circuit.isStarterPath(conductor)
}

/** Whether some load's feed from that battery passes the conductor; an alternator's lead has none. */
export function servesFrom(given: { readonly circuit: Circuit; readonly source: string; readonly conductor: string }): boolean {
  const { circuit, source, conductor } = given
  return circuit.loadsBehind(conductor).some((load) => circuit.feedFrom({ source, load }).includes(conductor))
}
