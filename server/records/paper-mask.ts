/** What is left out of words on a paper that leaves the house: everything private that is recorded, but for what was ticked. */
import type { Actor } from './contract.ts'
import type { Db } from './database.ts'
import { type Mask, maskOf } from './masks.ts'

/** Private fields that may be ticked, each by itself. Suppliers and places on the shelf never go along. */
export const PRIVATE = ['vin', 'plate', 'prices', 'names', 'addresses'] as const
export type PrivateField = (typeof PRIVATE)[number]

export function paperMask(db: Db, actor: Actor, given: { readonly vehicleId: string; readonly ticked: ReadonlySet<PrivateField> }): Mask {
  const { vehicleId, ticked } = given
  const { householdId } = actor
  const texts = (sql: string, ...of: readonly string[]) =>
    (
      db.$client
        .prepare(sql)
        .pluck()
        .all(...of) as (string | null)[]
    ).filter((one): one is string => typeof one === 'string' && one.trim() !== '')
  // Also what was once recorded and then corrected: an old plate is as private as the new one.
  const described = (name: string) =>
    texts(
      "SELECT DISTINCT json_extract(payload, ?) FROM changes WHERE kind = 'described' AND vehicle_id = ? AND household_id = ?",
      `$.vehicle.${name}`,
      vehicleId,
      householdId,
    )
  const leftTo = () =>
    texts(
      "SELECT json_extract(payload, '$.to') FROM changes WHERE kind = 'left' AND vehicle_id = ? AND household_id = ?",
      vehicleId,
      householdId,
    )
  return maskOf({
    numbers: [...(ticked.has('vin') ? [] : described('vin')), ...(ticked.has('plate') ? [] : described('plate'))],
    names: ticked.has('names') ? [] : [...texts('SELECT name FROM people WHERE household_id = ?', householdId), ...leftTo()],
    suppliers: texts('SELECT DISTINCT supplier FROM purchases WHERE household_id = ?', householdId),
    places: texts(
      'SELECT place FROM stock_counts WHERE household_id = ? UNION SELECT place FROM leftovers WHERE household_id = ?',
      householdId,
      householdId,
    ),
    addresses: ticked.has('addresses') ? null : described('keptAt').flatMap((one) => [one, ...one.split(/[,\n]/)]),
    prices: !ticked.has('prices'),
  })
}
