/** The part kinds, and what is asked of them by name. */
import { alternator } from './alternator.ts'
import { battery } from './battery.ts'
import { block } from './block.ts'
import { breaker } from './breaker.ts'
import { charger } from './charger.ts'
import { chassis } from './chassis.ts'
import { conductor } from './conductor.ts'
import { connector } from './connector.ts'
import { converter } from './converter.ts'
import { diode } from './diode.ts'
import { everyKindFields } from './every-kind.ts'
import { fuse } from './fuse.ts'
import { groundPoint } from './ground-point.ts'
import { hose } from './hose.ts'
import { load } from './load.ts'
import { moduleKind } from './module.ts'
import type { PartKind, RatingField } from './part-kind.ts'
import { pump } from './pump.ts'
import { relay } from './relay.ts'
import { splice } from './splice.ts'
import { switchKind } from './switch.ts'

export const partKinds: readonly PartKind[] = [
  battery,
  alternator,
  charger,
  converter,
  conductor,
  fuse,
  breaker,
  relay,
  switchKind,
  moduleKind,
  diode,
  block,
  connector,
  splice,
  groundPoint,
  chassis,
  load,
  pump,
  hose,
]

export { everyKindFields }

const byId = new Map(partKinds.map((kind) => [kind.id, kind]))

/** The part kind of that id, if there is one. */
export function partKind(id: string): PartKind | undefined {
  return byId.get(id)
}

/** All rating fields of a kind: its own, then those every kind has. */
export function fieldsOf(kindId: string): readonly RatingField[] {
  return [...(byId.get(kindId)?.fields ?? []), ...everyKindFields]
}

/** Terminal names worth offering on a form. */
export function terminalsOf(kindId: string): readonly string[] {
  const terminals = byId.get(kindId)?.terminals
  if (!terminals) return []
  return terminals.type === 'one-node' ? ['1', '2', '3', '4', '5', '6', '7', '8'] : terminals.names
}

/** Whether a terminal of that name can stand on a part of that kind. */
export function isTerminal(kindId: string, name: string): boolean {
  const terminals = byId.get(kindId)?.terminals
  if (!terminals) return false
  if (terminals.type === 'one-node') return /^[A-Za-z0-9+-][A-Za-z0-9+.-]*$/.test(name)
  return terminals.type === 'fixed' ? terminals.names.includes(name) : terminals.pattern.test(name)
}

/** Whether the terminal carries fluid, not current. */
export function isFluid(kindId: string, name: string): boolean {
  const terminals = byId.get(kindId)?.terminals
  return terminals?.type === 'fixed' && (terminals.fluid ?? []).includes(name)
}
