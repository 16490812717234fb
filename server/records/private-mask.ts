/** What is left out of words that leave the house, on a build page or on paper: everything private that is recorded, but for what was let through. */
import type { Db } from './database.ts'
import { type Mask, maskOf } from './masks.ts'
import type { Private } from './shares.ts'

/** What is private in this household is read here to be left out of words, and goes nowhere else. */
export function privateMask(
  db: Db,
  given: { readonly householdId: string; readonly vehicleId: string; readonly lets: (field: Private) => boolean },
): Mask {
  const { householdId, vehicleId, lets } = given
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
    numbers: [...(lets('vin') ? [] : described('vin')), ...(lets('plate') ? [] : described('plate'))],
    names: lets('names') ? [] : [...texts('SELECT name FROM people WHERE household_id = ?', householdId), ...leftTo()],
    suppliers: lets('suppliers') ? [] : texts('SELECT DISTINCT supplier FROM purchases WHERE household_id = ?', householdId),
    places: lets('places')
      ? []
      : texts(
          'SELECT place FROM stock_counts WHERE household_id = ? UNION SELECT place FROM leftovers WHERE household_id = ?',
          householdId,
          householdId,
        ),
    addresses: lets('addresses') ? null : described('keptAt').flatMap((one) => [one, ...one.split(/[,\n]/)]),
    prices: !lets('prices'),
  })
}
