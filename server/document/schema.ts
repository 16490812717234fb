/** The vehicle document's schema: strict everywhere, so that an unknown field is refused by name. */
import { z } from 'zod'
import { partKinds } from '../engine/parts/index.ts'
import { COLOUR_LETTERS, COLOURS_ALLOWED } from '../engine/tables/iec-60757-colours.ts'
import { gradeSchema, ratingsSchema } from './part-fields.ts'

const key = z
  .string()
  .regex(/^[a-z0-9][a-z0-9-]*$/)
  .max(80)
const name = z.string().min(1).max(200)
const temperature = z.number().finite().gte(-60).lte(1000)
const terminal = z.string().regex(/^[a-z0-9][a-z0-9-]*:[^:\s]+$/)
const date = z.string().regex(/^\d{4}-\d{2}-\d{2}$/)
const evidence = z.record(z.string(), gradeSchema)
const colour = z.enum(COLOUR_LETTERS, COLOURS_ALLOWED)

/** What holds of a part whatever its kind, for naming the other faults of one whose kind there is not. */
export const partShape = z.strictObject({
  key,
  kind: z.string(),
  name,
  ratings: z.record(z.string(), z.unknown()),
  evidence: evidence.optional(),
})

const part = z.discriminatedUnion(
  'kind',
  partKinds.map((kind) => partShape.extend({ kind: z.literal(kind.id), ratings: ratingsSchema(kind.id) })) as never,
)

export const documentShape = z.strictObject({
  format: z.literal('loombook-vehicle/1'),
  vehicle: z.strictObject({
    name,
    systemVoltage_V: z.number().finite().gte(6).lte(48),
    maximum_V: z.number().finite().gt(0).lte(100).optional(),
    reserve_h: z.number().finite().gt(0).lte(10000).optional(),
    fuelDemand: z
      .strictObject({
        power_kW: z.number().gt(0).optional(),
        bsfc_gPerkWh: z.number().gt(0).optional(),
        fuel: z.string().max(40).optional(),
        density_kgPerL: z.number().gt(0).lte(2).optional(),
        margin: z.number().gte(0).lte(5).optional(),
      })
      .optional(),
  }),
  asOf: date.optional(),
  zones: z
    .array(
      z.strictObject({
        key,
        name,
        ambient_degC: temperature.optional(),
        peak_degC: temperature.optional(),
        ingress: z
          .string()
          .regex(/^IP[0-9X]K?[0-9X]K?$/)
          .optional(),
        fuel: z.enum(['none', 'vapour', 'immersed']).optional(),
        evidence: evidence.optional(),
      }),
    )
    .optional(),
  parts: z.array(part),
  components: z.array(
    z.strictObject({
      key,
      name,
      part: key,
      zone: key.optional(),
      length_m: z.number().finite().gte(0).lte(1000).optional(),
      parallel: z.number().int().gte(1).lte(100).optional(),
      bundle: z.number().int().gte(1).lte(1000).optional(),
      setPressure_kPa: z.number().finite().gt(0).lte(100000).optional(),
      placement: z.enum(['in-tank', 'engine-bay', 'chassis']).optional(),
      colour: colour.optional(),
      stripe: colour.optional(),
      number: z.string().max(40).optional(),
      position: z.string().max(40).optional(),
      fittings: z
        .record(z.string(), z.strictObject({ terminal: z.string().max(80).optional(), tool: z.string().max(80).optional() }))
        .optional(),
      unfinished: z.string().min(1).max(2000).optional(),
    }),
  ),
  joins: z.array(z.strictObject({ from: terminal, to: terminal, resistance_ohm: z.number().finite().gte(0).lte(1000).optional() })),
  conditions: z
    .array(
      z.strictObject({
        key,
        name,
        engine: z.enum(['off', 'idle', 'running', 'cranking']),
        on: z.array(key).optional(),
        open: z.array(key).optional(),
        charge_A: z.number().finite().gte(0).lte(10000).optional(),
      }),
    )
    .optional(),
})
