/** The demonstration vehicles, entered through the journal like anybody's own. */
import type { Clock } from '../clock.ts'
import type { Actor, Change, Result } from '../contract.ts'
import { type Db, inTransaction } from '../database.ts'
import { append } from '../journal.ts'
import { createPart } from '../parts.ts'
import { done } from '../refusals.ts'
import { createVehicle } from '../vehicles.ts'
import { anvil } from './anvil.ts'
import { bramble } from './bramble.ts'
import { demoParts } from './parts.ts'
import { wren } from './wren.ts'

export type DemoEntry = {
  readonly on: string
  readonly title: string
  readonly text?: string
  readonly odometer_km?: number
  readonly cost_minor?: number
  readonly changes: readonly Change[]
}
export type DemoVehicle = { readonly name: string; readonly systemVoltage_V: number; readonly entries: readonly DemoEntry[] }

export const demoVehicles: readonly DemoVehicle[] = [bramble, wren, anvil]

/** Puts the parts on the shelf and the three vehicles in the journal; all of it, or nothing. */
export function loadDemo(db: Db, clock: Clock, actor: Actor): Result<{ vehicleIds: string[] }> {
  return inTransaction(db, () => {
    const ids = new Map<string, string>()
    for (const [key, part] of Object.entries(demoParts)) {
      const made = createPart(db, clock, actor, part)
      if (!made.ok) return made
      ids.set(key, made.value.id)
    }
    const vehicleIds: string[] = []
    for (const vehicle of demoVehicles) {
      const made = createVehicle(db, clock, actor, vehicle)
      if (!made.ok) return made
      vehicleIds.push(made.value.id)
      for (const { on, changes, ...entry } of vehicle.entries) {
        const saved = append(db, clock, actor, {
          vehicleId: made.value.id,
          effectiveOn: on,
          ...entry,
          changes: changes.map((change) => withIds(change, ids)),
        })
        if (!saved.ok)
          return {
            ok: false,
            refusals: saved.refusals.map((refusal) => ({ ...refusal, sentence: `${vehicle.name}, ${entry.title}: ${refusal.sentence}` })),
          }
      }
    }
    return done({ vehicleIds })
  })
}

function withIds(change: Change, ids: ReadonlyMap<string, string>): Change {
  if (change.kind === 'fitted')
    return { ...change, component: { ...change.component, part: ids.get(change.component.part) ?? change.component.part } }
  return change.kind === 'swapped' ? { ...change, part: ids.get(change.part) ?? change.part } : change
}
