/** Whether a reading of the odometer goes with those before and after it; what does not is asked once, then taken as typed. */
import { dateWords, kilometres } from '../../web/format.ts'

export type Reading = { readonly on: string; readonly odometer_km: number }

/** More than this at once, and more than this for each day since, is mostly a slip of the finger. */
const JUMP_KM = 5000
const A_DAY_KM = 200

/** What is odd about a reading, as a question; nothing where it goes with the others. `readings` are in the journal's order. */
export function oddReading(given: { readonly odometer_km: number; readonly on: string; readonly readings: readonly Reading[] }): string {
  const { odometer_km, on, readings } = given
  const last = lastReading(readings, on)
  const next = readings.find((one) => one.on > on)
  if (last && odometer_km < last.odometer_km)
    return `The last reading was ${kilometres(last.odometer_km)} on ${dateWords(last.on)}. If the lower figure is right, tick the box under it.`
  if (next && odometer_km > next.odometer_km)
    return `A later reading, of ${dateWords(next.on)}, is ${kilometres(next.odometer_km)}. If the higher figure is right, tick the box under it.`
  if (last && odometer_km - last.odometer_km > JUMP_KM + A_DAY_KM * (dayNumber(on) - dayNumber(last.on)))
    return `That is ${kilometres(odometer_km - last.odometer_km)} more than on ${dateWords(last.on)}. If it is right, tick the box under it.`
  return ''
}

/** The latest reading up to a day. */
export function lastReading(readings: readonly Reading[], on: string): Reading | undefined {
  return readings.findLast((one) => one.on <= on)
}

/** Days since a fixed day of the past (civil calendar), so that two can be taken from one another. */
export function dayNumber(date: string): number {
  const [year = 0, month = 1, day = 1] = date.split('-').map(Number)
  // Years begin in March, so that a leap day comes last.
  const from = month > 2 ? year : year - 1
  const monthFromMarch = (month + 9) % 12
  return (
    365 * from + Math.floor(from / 4) - Math.floor(from / 100) + Math.floor(from / 400) + Math.floor((153 * monthFromMarch + 2) / 5) + day
  )
}
