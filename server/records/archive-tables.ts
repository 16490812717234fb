/**
 * Past 200 lines: one list of all tables and their columns. What an archive holds, table by table: its columns in order, as they stand in the database but for three things. The household is left
 * out, since whoever takes the archive in is another; people are named instead of numbered; and what is kept as JSON stands as JSON.
 * What each column is said to be here stands in the archive's README too.
 */
import { z } from 'zod'
import { day as calendarDay } from './changes/fields.ts'
import { extensions } from './photo-path.ts'

export const FORMAT = 'loombook-archive/1'

export type Row = Readonly<Record<string, unknown>>
export type ArchiveTable = {
  readonly name: string
  readonly says: string
  readonly columns: readonly string[]
  readonly key: readonly string[]
  readonly json: readonly string[]
  /** column → table whose record it names */
  readonly refs: Readonly<Record<string, string>>
  /** columns that may have changed since: where the record is here already, what is here stands */
  readonly changing: readonly string[]
  /** in the order recorded, where a later record is the one that counts; else by key */
  readonly byRecording: boolean
  readonly row: z.ZodType<Row>
}

const uuid = z.string().regex(/^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/)
const id = uuid.describe('its id: a UUID that sorts by when it was given')
const to = (what: string) => uuid.describe(`id of ${what}`)
const orNull = (what: string) => uuid.nullable().describe(`id of ${what}, or null`)
const instant = z.iso.datetime()
const day = calendarDay
const person = z.string().min(1).max(80)
const text = (most: number) =>
  z
    .string()
    .max(most)
    .refine((one) => !one.includes('\u0000'))
const record = z.record(z.string(), z.unknown())
const recorded = {
  recorded_at: instant.describe('when it was written down'),
  recorded_by: person.describe('name of who wrote it down'),
}
const whole = z.number().int().min(-1e12).max(1e12)
const version = whole.positive().describe('version of the shape of what stands as JSON beside it')

const figure = z.number().nullable()
/** What the check said may say more than is asked for here; it is shown, never reckoned with. */
const finding = z.looseObject({
  rule: text(80),
  component: text(200),
  condition: text(200),
  verdict: z.enum(['over', 'tight', 'unknown', 'clear']),
  value: figure,
  limit: figure,
  unit: text(40),
  used: figure,
  tightAbove: figure,
  overAbove: figure,
  says: text(5000),
  remedy: text(5000),
  missing: z.array(text(500)),
  evidence: z.enum(['datasheet', 'marked', 'measured', 'typical', 'assumed']),
  sources: z.array(text(500)),
})
const shown = z.looseObject({
  version: text(80),
  findings: z.array(finding),
  tightestClear: finding.nullable(),
  appeared: z.array(finding),
  cleared: z.array(finding),
  changed: z.array(z.looseObject({ before: finding, after: finding })),
})

/** In the order in which rows may be put in: what is pointed to stands before what points. */
export const archiveTables: readonly ArchiveTable[] = [
  table('vehicles', 'a vehicle as it was first entered; what it is called today is said by the journal', {
    id,
    name: text(120).min(1).describe('its first name'),
    system_voltage_v: z.number().positive().max(1000).describe('its first system voltage, in volts'),
    notes: text(5000).describe('notes'),
    ...recorded,
  }),
  table('parts', 'a thing one buys', { id, kind: text(80).describe('kind of part'), ...recorded }),
  table(
    'part_revisions',
    'what is known of a part: each says everything anew, and the last one of a part counts',
    {
      id,
      part_id: to('the part'),
      name: text(200).min(1).describe('what it is called'),
      v: version,
      ratings: record.describe('its figures by name, each with its unit in the name'),
      evidence: record.describe('where a figure comes from: datasheet, marked, measured, typical or assumed'),
      notes: text(5000).describe('notes'),
      ...recorded,
    },
    { json: ['ratings', 'evidence'], refs: { part_id: 'parts' }, byRecording: true },
  ),
  table(
    'entries',
    'a dated piece of a vehicle’s journal',
    {
      id,
      vehicle_id: to('the vehicle'),
      effective_on: day.describe('the day it was true in the world'),
      place_id: to('the first version of this entry, which gives its place among those of its day'),
      ...recorded,
      title: text(400).min(1).describe('title'),
      text: text(20_000).describe('text'),
      odometer_km: z.number().min(0).max(1e7).nullable().describe('odometer in kilometres, or null'),
      cost_minor: whole.min(0).nullable().describe('cost in minor units of money, or null'),
      corrects_id: orNull('the entry that this one replaces or takes back'),
      correction: z
        .enum(['withdrawn', 'replaced'])
        .nullable()
        .describe('“withdrawn”: takes that entry back; “replaced”: stands in its place; or null'),
      once_key: text(200).nullable().describe('the form it came by, so that one sent twice counts once; or null'),
      shown: shown.nullable().describe('what the check said when it was saved, or null'),
    },
    { json: ['shown'], refs: { vehicle_id: 'vehicles', place_id: 'entries', corrects_id: 'entries' }, changing: ['once_key'] },
  ),
  table(
    'changes',
    'what an entry did to its vehicle',
    {
      id,
      vehicle_id: to('the vehicle'),
      entry_id: to('the entry'),
      position: whole.min(0).describe('its place among the changes of its entry, from 0'),
      kind: text(40).describe('kind of change: fitted, removed, swapped, joined …'),
      v: version,
      payload: record.describe('what changed; “part” in it is the id of a part, “component” the key of a component'),
    },
    { json: ['payload'], refs: { vehicle_id: 'vehicles', entry_id: 'entries' } },
  ),
  table(
    'stock_counts',
    'a count of a part on the shelf',
    {
      id,
      part_id: to('the part'),
      count: whole.min(0).describe('how many there were'),
      place: text(200).nullable().describe('where they lie, or null'),
      ...recorded,
    },
    { refs: { part_id: 'parts' } },
  ),
  table(
    'stock_moves',
    'what an entry took from the shelf or put back',
    { id, part_id: to('the part'), entry_id: to('the entry'), by_count: whole.describe('below zero: taken; above: put back') },
    { refs: { part_id: 'parts', entry_id: 'entries' } },
  ),
  table(
    'purchases',
    'a part bought',
    {
      id,
      part_id: to('the part'),
      bought_on: day.describe('the day it was bought'),
      count: whole.positive().describe('how many'),
      price_minor: whole.min(0).nullable().describe('price in minor units of money, or null'),
      supplier: text(200).describe('where from'),
      ...recorded,
    },
    { refs: { part_id: 'parts' } },
  ),
  table(
    'leftovers',
    'a piece of wire or hose that is left',
    {
      id,
      part_id: to('the part it is of'),
      length_m: z.number().positive().describe('length in metres'),
      place: text(200).describe('where it lies'),
      used_at: instant.nullable().describe('when it was used up, or null'),
      ...recorded,
    },
    { refs: { part_id: 'parts' }, changing: ['length_m', 'place', 'used_at'] },
  ),
  table(
    'photos',
    'a photo or paper, shown somewhere',
    {
      id,
      vehicle_id: orNull('the vehicle'),
      entry_place_id: orNull('the first version of the entry'),
      part_id: orNull('the part'),
      component_key: text(80).nullable().describe('key of the component, or null'),
      sha256: z
        .string()
        .regex(/^[0-9a-f]{64}$/)
        .describe('SHA-256 of the original, which lies under photos/ by that name'),
      type: z.enum(Object.keys(extensions) as [string, ...string[]]).describe('kind of file'),
      bytes: whole.positive().describe('size of the original'),
      width_px: whole.positive().nullable().describe('width in pixels, or null'),
      height_px: whole.positive().nullable().describe('height in pixels, or null'),
      file_name: text(200).describe('what it was called when it was sent'),
      caption: text(500).describe('caption'),
      once_key: text(200).nullable().describe('the form it came by, or null'),
      trashed_at: instant.nullable().describe('when it was put in the trash, or null'),
      ...recorded,
    },
    {
      refs: { vehicle_id: 'vehicles', entry_place_id: 'entries', part_id: 'parts' },
      changing: ['vehicle_id', 'entry_place_id', 'part_id', 'component_key', 'caption', 'once_key', 'trashed_at'],
    },
  ),
  table(
    'photo_marks',
    'a place on a photo that shows a component',
    {
      id,
      photo_id: to('the photo'),
      component_key: text(80).describe('key of the component'),
      x: z.number().min(0).max(1).describe('share of the photo’s width'),
      y: z.number().min(0).max(1).describe('share of its height'),
      ...recorded,
    },
    { refs: { photo_id: 'photos' } },
  ),
  table(
    'settings',
    'what the household chose',
    { name: text(80).min(1).describe('what'), value: text(2000).describe('how') },
    { key: ['name'] },
  ),
]

/** Tables that no archive holds, and why: every table is in this list or in the one above. */
export const leftOut: Readonly<Record<string, string>> = {
  households: 'whoever takes the archive in is another household',
  people: 'named in the records; their passwords and second factors stay',
  sessions: 'opens the door',
  invitations: 'opens the door',
  sign_in_tickets: 'opens the door',
  recovery_codes: 'opens the door',
  known_devices: 'concerns one installation',
  passkeys: 'opens the door',
  identities: 'opens the door',
  password_resets: 'opens the door',
  api_tokens: 'opens the door',
  feeds: 'opens the door',
  shares: 'opens the door',
  webhooks: 'opens the door',
  webhook_deliveries: 'concerns one installation',
  idempotency_keys: 'concerns one installation',
  security_events: 'concerns one installation',
  jobs: 'concerns one installation',
  projections: 'made again from the records',
  projection_parts: 'made again from the records',
  vehicle_facts: 'made again from the records',
  search_rows: 'made again from the records',
  digests: 'made again from the records',
  changing_digests: 'made again from the records',
}

export function fileOf(name: string): string {
  return `records/${name}.jsonl`
}

export function columnsOf(table: ArchiveTable): readonly (readonly [name: string, says: string])[] {
  const { shape } = table.row as unknown as z.ZodObject
  return Object.entries(shape).map(([name, schema]) => [name, (schema as z.ZodType).description ?? ''] as const)
}

/** A row as its line: keys in the table's order, so that the same record is always the same line. */
export function lineOf(table: ArchiveTable, row: Row, without: readonly string[] = []): string {
  const ordered: Record<string, unknown> = {}
  for (const name of table.columns) if (!without.includes(name)) ordered[name] = row[name] ?? null
  return JSON.stringify(ordered)
}

function table(
  name: string,
  says: string,
  shape: z.ZodRawShape,
  given: Partial<Pick<ArchiveTable, 'key' | 'json' | 'refs' | 'changing' | 'byRecording'>> = {},
): ArchiveTable {
  const { key = ['id'], json = [], refs = {}, changing = [], byRecording = false } = given
  const columns = Object.keys(shape)
  return { name, says, columns, key, json, refs, changing, byRecording, row: z.strictObject(shape) as unknown as z.ZodType<Row> }
}
