/**
 * What an archive holds, table by table: its columns in order, as they stand in the database but for three things. The household is left
 * out, since whoever takes the archive in is another; people are named instead of numbered; and what is kept as JSON stands as JSON.
 */
import { z } from 'zod'

export const FORMAT = 'loombook-archive/1'

export type Row = Readonly<Record<string, unknown>>
export type ArchiveTable = {
  readonly name: string
  readonly key: readonly string[]
  readonly json: readonly string[]
  readonly row: z.ZodType<Row>
}

const id = z.string().regex(/^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/)
const instant = z.iso.datetime()
const day = z.string().regex(/^\d{4}-[0-1]\d-[0-3]\d$/)
const person = z.string().min(1).max(80)
const text = (most: number) =>
  z
    .string()
    .max(most)
    .refine((one) => !one.includes('\u0000'))
const record = z.record(z.string(), z.unknown())
const recorded = { recorded_at: instant, recorded_by: person }
const whole = z.number().int().min(-1e12).max(1e12)

/** In the order in which rows may be put in: what is pointed to stands before what points. */
export const archiveTables: readonly ArchiveTable[] = [
  table('vehicles', { id, name: text(120), system_voltage_v: z.number().positive(), notes: text(5000), ...recorded }),
  table('parts', { id, kind: text(80), ...recorded }),
  table(
    'part_revisions',
    { id, part_id: id, name: text(200), v: whole.positive(), ratings: record, evidence: record, notes: text(5000), ...recorded },
    { json: ['ratings', 'evidence'] },
  ),
  table(
    'entries',
    {
      id,
      vehicle_id: id,
      effective_on: day,
      place_id: id,
      ...recorded,
      title: text(400).min(1),
      text: text(20_000),
      odometer_km: z.number().min(0).nullable(),
      cost_minor: whole.min(0).nullable(),
      corrects_id: id.nullable(),
      correction: z.enum(['withdrawn', 'replaced']).nullable(),
      once_key: text(200).nullable(),
      shown: z.unknown(),
    },
    { json: ['shown'] },
  ),
  table(
    'changes',
    { id, vehicle_id: id, entry_id: id, position: whole.min(0), kind: text(40), v: whole.positive(), payload: record },
    { json: ['payload'] },
  ),
  table('stock_counts', { id, part_id: id, count: whole.min(0), place: text(200).nullable(), ...recorded }),
  table('stock_moves', { id, part_id: id, entry_id: id, by_count: whole }),
  table('purchases', {
    id,
    part_id: id,
    bought_on: day,
    count: whole.positive(),
    price_minor: whole.min(0).nullable(),
    supplier: text(200),
    ...recorded,
  }),
  table('leftovers', { id, part_id: id, length_m: z.number().positive(), place: text(200), used_at: instant.nullable(), ...recorded }),
  table('photos', {
    id,
    vehicle_id: id.nullable(),
    entry_place_id: id.nullable(),
    part_id: id.nullable(),
    component_key: text(80).nullable(),
    sha256: z.string().regex(/^[0-9a-f]{64}$/),
    type: text(40),
    bytes: whole.positive(),
    width_px: whole.positive().nullable(),
    height_px: whole.positive().nullable(),
    file_name: text(200),
    caption: text(500),
    once_key: text(200).nullable(),
    trashed_at: instant.nullable(),
    ...recorded,
  }),
  table('photo_marks', {
    id,
    photo_id: id,
    component_key: text(80),
    x: z.number().min(0).max(1),
    y: z.number().min(0).max(1),
    ...recorded,
  }),
  table('settings', { name: text(80), value: text(2000) }, { key: ['name'] }),
]

export function fileOf(name: string): string {
  return `records/${name}.jsonl`
}

/** A row as its line: keys in the table's order, so that the same record is always the same line. */
export function lineOf(table: ArchiveTable, row: Row): string {
  const shape = (table.row as unknown as z.ZodObject).shape
  const ordered: Record<string, unknown> = {}
  for (const name of Object.keys(shape)) ordered[name] = row[name] ?? null
  return JSON.stringify(ordered)
}

function table(
  name: string,
  shape: z.ZodRawShape,
  given: { readonly key?: readonly string[]; readonly json?: readonly string[] } = {},
): ArchiveTable {
  return { name, key: given.key ?? ['id'], json: given.json ?? [], row: z.strictObject(shape) as unknown as z.ZodType<Row> }
}
