/** Past 200 lines: the shapes of everything that comes in and goes out, each said once; what is checked is what is described. */
import { z } from 'zod'
import { gradeSchema, ratingsSchema } from '../document/part-fields.ts'
import { documentShape } from '../document/schema.ts'
import { partKinds } from '../engine/parts/index.ts'
import * as fields from '../records/changes/fields.ts'
import { changeKinds } from '../records/changes/index.ts'
import { problemSchema } from './problem.ts'

/** What has a name of its own in the description. */
export const named = z.registry<{ readonly id: string }>()
function name<T extends z.ZodType>(id: string, schema: T): T {
  named.add(schema, { id })
  return schema
}

const id = z.string().regex(/^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$/)
const instant = z.string().describe('An instant, ISO 8601 in UTC.')
const day = fields.day.meta({ format: 'date', description: 'YYYY-MM-DD; a date that exists.' })
const number = z.number().nullable()
const evidence = z.record(z.string(), gradeSchema)
const rating = z.union([
  z.number(),
  z.string(),
  z.boolean(),
  z.strictObject({ system: z.enum(['AWG', 'SAE', 'mm2']), name: z.string() }),
  z.array(z.record(z.string(), z.number())),
])
const ratings = z.record(z.string(), rating).describe('Figures by their names, units in the names. What is not known is left out.')

export const problem = name('Problem', problemSchema)

export const verdict = z.enum(['over', 'tight', 'unknown', 'clear'])
export const finding = name(
  'Finding',
  z.strictObject({
    rule: z.string(),
    component: z.string(),
    condition: z.string(),
    verdict,
    value: number,
    limit: number,
    unit: z.string(),
    used: number.describe('The share of the limit that is used.'),
    tightAbove: number,
    overAbove: number,
    says: z.string(),
    remedy: z.string(),
    missing: z.array(z.string()).describe('What is not known and would be needed.'),
    evidence: gradeSchema,
    sources: z.array(z.string()),
  }),
)
const componentReport = z.strictObject({
  current_A: number,
  drop_V: number,
  temperature_degC: number,
  atLeast: z.boolean(),
  atMost_A: number,
})
export const report = name(
  'Report',
  z.strictObject({
    format: z.literal('loombook-report/1'),
    asOf: z.string().nullable(),
    version: z.string(),
    conditions: z.array(
      z.strictObject({
        key: z.string(),
        name: z.string(),
        solved: z.boolean(),
        faults: z.array(z.string()),
        unfed: z.array(z.string()),
        terminals_V: z.record(z.string(), number),
        components: z.record(z.string(), componentReport),
      }),
    ),
    findings: z.array(finding),
  }),
)

/** What is sent to be checked: the whole format, part kinds and all. */
export const documentIn = name('VehicleDocument', documentShape)
/** What is answered: a vehicle recorded long ago may hold figures that the format would refuse today. */
export const documentOut = name(
  'RecordedDocument',
  z.strictObject({
    format: z.literal('loombook-vehicle/1'),
    vehicle: z.strictObject({
      name: z.string(),
      systemVoltage_V: z.number(),
      maximum_V: z.number().optional(),
      reserve_h: z.number().optional(),
      fuelDemand: z.record(z.string(), z.union([z.number(), z.string()])).optional(),
    }),
    asOf: z.string().optional(),
    zones: z.array(fields.zone).optional(),
    parts: z.array(z.strictObject({ key: z.string(), kind: z.string(), name: z.string(), ratings, evidence: evidence.optional() })),
    components: z.array(fields.component.extend({ unfinished: z.string().optional() })),
    joins: z.array(z.strictObject({ from: z.string(), to: z.string(), resistance_ohm: z.number().optional() })),
    conditions: z.array(fields.condition).optional(),
  }),
)

const kindOf = (kind: string) => z.literal(kind)
const payloadOf = (kind: string): z.ZodObject => {
  const known = changeKinds.find((one) => one.kind === kind)
  if (!known) throw new Error(`no change is called ${kind}`)
  return known.payload as unknown as z.ZodObject
}
const kinds = changeKinds.map((one) => one.kind)
const union = (shapes: readonly z.ZodObject[]) => z.discriminatedUnion('kind', shapes as never) as unknown as z.ZodType<{ kind: string }>

export const changeOut = name('RecordedChange', union(kinds.map((kind) => payloadOf(kind).safeExtend({ kind: kindOf(kind) }))))

const componentShape = documentShape.shape.components.element
const narrower: Readonly<Record<string, z.ZodRawShape>> = {
  fitted: { component: componentShape },
  described: {
    vehicle: documentShape.shape.vehicle.partial().exactOptional(),
    zone: documentShape.shape.zones.unwrap().element.exactOptional(),
    condition: documentShape.shape.conditions.unwrap().element.exactOptional(),
    component: componentShape.omit({ part: true }).partial({ name: true }).exactOptional(),
  },
}
/** Narrower than what is recorded: only what the vehicle document can say. */
export const changeIn = name(
  'Change',
  union(kinds.map((kind) => payloadOf(kind).safeExtend({ kind: kindOf(kind), ...(narrower[kind] ?? {}) } as never) as z.ZodObject)),
)

const title = z.string().trim().min(1, 'Give the entry a title.').max(200)
const odometer_km = fields.figure.max(10_000_000)
const cost_minor = z.int().min(0).max(1e12).describe('In the smallest unit of the money.')

export const newEntry = name(
  'NewEntry',
  z.strictObject({
    effectiveOn: day,
    title,
    text: z.string().max(20_000).optional(),
    odometer_km: odometer_km.optional(),
    cost_minor: cost_minor.optional(),
    changes: z.array(changeIn).max(500).describe('In the order they were done. None is fine: then it is a note.'),
  }),
)
export const withdrawal = name(
  'Withdrawal',
  z.strictObject({ reason: z.string().max(20_000).optional().describe('Why, for who reads the journal later.') }),
)
const entryFields = {
  id,
  vehicleId: id,
  effectiveOn: z.string(),
  recordedAt: instant,
  title: z.string(),
  text: z.string(),
  odometer_km: number,
  cost_minor: number,
  author: z.string(),
  changes: z.array(changeOut),
  sentences: z.array(z.string()).describe('Each change in a plain sentence.'),
  withdrawn: z.boolean(),
}
export const entryItem = name('EntryItem', z.strictObject(entryFields))
export const entry = name(
  'Entry',
  z.strictObject({
    ...entryFields,
    shown: z
      .strictObject({
        version: z.string(),
        findings: z.array(finding).describe('All that was not clear once it was saved.'),
        tightestClear: finding.nullable(),
        appeared: z.array(finding).describe('What this entry brought or made worse.'),
        cleared: z.array(finding),
        changed: z.array(z.strictObject({ before: finding, after: finding })),
      })
      .nullable()
      .describe('What the check said when it was saved.'),
  }),
)

export const newVehicle = name(
  'NewVehicle',
  z.strictObject({
    name: z.string().trim().min(1).max(120),
    systemVoltage_V: z.number().min(6).max(48),
    notes: z.string().max(5000).optional(),
  }),
)
const vehicleFields = { id, name: z.string(), systemVoltage_V: z.number(), odometer_km: number, entryCount: z.int() }
export const vehicleItem = name('VehicleItem', z.strictObject(vehicleFields))
export const vehicle = name(
  'Vehicle',
  z.strictObject({
    ...vehicleFields,
    notes: z.string(),
    recordedAt: instant,
    firstOn: z.string().nullable(),
    verdicts: z
      .strictObject({ over: z.int(), tight: z.int(), unknown: z.int(), clear: z.int() })
      .describe('How many findings of each sort today.'),
  }),
)

const partName = z.string().trim().min(1).max(200)
const notes = z.string().max(5000)
export const newPart = name(
  'NewPart',
  z.discriminatedUnion(
    'kind',
    partKinds.map((kind) =>
      z.strictObject({
        kind: z.literal(kind.id),
        name: partName,
        ratings: ratingsSchema(kind.id),
        evidence: evidence.optional(),
        notes: notes.optional(),
      }),
    ) as never,
  ) as unknown as z.ZodType<{
    kind: string
    name: string
    ratings: z.infer<typeof ratings>
    evidence?: z.infer<typeof evidence>
    notes?: string
  }>,
)
export const newRevision = name(
  'NewRevision',
  z.strictObject({
    name: partName,
    ratings,
    evidence: evidence.optional(),
    notes: notes.optional(),
    basedOn: id.optional().describe('The revision it was written on: refused if another is in force by now.'),
  }),
)
const partFields = {
  id,
  kind: z.string(),
  name: z.string(),
  ratings,
  evidence,
  notes: z.string(),
  inStock: z.int(),
  place: z.string().nullable(),
  recordedAt: instant,
  revision: id.describe('The revision in force.'),
}
export const partItem = name('PartItem', z.strictObject(partFields))
export const part = name(
  'Part',
  z.strictObject({
    ...partFields,
    revisions: z.array(
      z.strictObject({ id, name: z.string(), ratings, evidence, notes: z.string(), recordedAt: instant, author: z.string() }),
    ),
  }),
)

export const reading = name(
  'Reading',
  z.strictObject({
    key: z.string(),
    entryId: id,
    on: z.string(),
    at: z.string().describe('A component, or component:terminal.'),
    quantity: z.enum(['voltage', 'current', 'resistance']),
    value: z.number(),
    unit: z.enum(['V', 'A', 'ohm']),
    condition: z.string().nullable(),
  }),
)
export const photo = name(
  'Photo',
  z.strictObject({
    id,
    vehicleId: id.nullable(),
    entryId: id.nullable().describe('The first version of the entry it belongs to.'),
    partId: id.nullable(),
    componentKey: z.string().nullable(),
    sha256: z.string(),
    type: z.string(),
    bytes: z.int(),
    width_px: z.int().nullable(),
    height_px: z.int().nullable(),
    fileName: z.string(),
    caption: z.string(),
    recordedAt: instant,
    author: z.string(),
    original: z.string(),
    picture: z.string().nullable().describe('A small copy without what the camera noted; null where nothing here can draw it.'),
  }),
)

export const onQuery = z.strictObject({ on: day.optional().describe('As it stood on that day, YYYY-MM-DD; today unless said.') })
export { day }
