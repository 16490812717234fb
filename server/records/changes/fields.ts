/** Pieces of payload that several kinds of change share. */
import { z } from 'zod'
import { COLOUR_LETTERS, COLOURS_ALLOWED } from '../../engine/tables/iec-60757-colours.ts'

export const key = z
  .string()
  .max(80)
  .regex(/^[a-z0-9][a-z0-9-]*$/, 'Use small letters, figures and hyphens.')
export const terminal = z
  .string()
  .max(160)
  .regex(/^[a-z0-9][a-z0-9-]*:[^:\s]+$/, 'Name a terminal as component:terminal.')
/** What is wrong with it is read by who typed it. */
export const words = (most: number) => z.string().trim().min(1, 'Say it in a few words.').max(most, `Keep this to ${most} letters at most.`)
export const day = z.string().refine(isDay, 'Give a date as YYYY-MM-DD.')
export const fate = z.enum(['shelf', 'bin', 'failed', 'not said'])
export const figure = z.number().min(0).max(1e9)

const colour = z.enum(COLOUR_LETTERS, COLOURS_ALLOWED)
const grade = z.enum(['datasheet', 'marked', 'measured', 'typical', 'assumed'])

/** Everything a component may carry but its key, name and part. */
const componentDetails = {
  zone: key.optional(),
  length_m: figure.optional(),
  parallel: z.number().int().min(1).max(100).optional(),
  bundle: z.number().int().min(1).max(200).optional(),
  setPressure_kPa: figure.optional(),
  placement: words(40).optional(),
  colour: colour.optional(),
  stripe: colour.optional(),
  number: words(40).optional(),
  position: words(40).optional(),
  fittings: z
    .record(z.string(), z.strictObject({ terminal: z.string().max(80).exactOptional(), tool: z.string().max(80).exactOptional() }))
    .optional(),
  unfinished: words(1000).optional(),
}
export const component = z.strictObject({ key, name: words(120), part: z.string().min(1).max(80), ...componentDetails })
export const describedComponent = z.strictObject({ key, name: words(120).exactOptional(), ...componentDetails })

export const zone = z.strictObject({
  key,
  name: words(120),
  ambient_degC: z.number().min(-60).max(300).optional(),
  peak_degC: z.number().min(-60).max(300).optional(),
  ingress: words(20).optional(),
  fuel: words(20).optional(),
  evidence: z.record(z.string(), grade).optional(),
})

export const condition = z.strictObject({
  key,
  name: words(120),
  engine: z.enum(['off', 'idle', 'running', 'cranking']),
  on: z.array(key).optional(),
  open: z.array(key).optional(),
  charge_A: figure.optional(),
})

/** A calendar date that exists, judged as text: no time zone can move it. */
export function isDay(text: string): boolean {
  const match = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text)
  if (!match) return false
  const [year, month, date] = match.slice(1).map(Number) as [number, number, number]
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0
  const lengths = [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31]
  return year >= 1900 && date >= 1 && date <= (lengths[month - 1] ?? 0)
}
