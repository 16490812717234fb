/** A small household whose archive is quickly made, and zips made by hand, byte by byte, with whatever each says that is not so. */
import { createHash } from 'node:crypto'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { crc32, deflateRawSync, inflateRawSync } from 'node:zlib'
import { importArchive } from '../../server/records/archive-import.ts'
import { FORMAT } from '../../server/records/archive-tables.ts'
import { type ArchiveScope, writeArchive } from '../../server/records/archive-write.ts'
import { type Clock, fixedClock } from '../../server/records/clock.ts'
import type { Actor } from '../../server/records/contract.ts'
import { type Db, openDatabase } from '../../server/records/database.ts'
import { newId } from '../../server/records/ids.ts'
import { append, correct, withdraw } from '../../server/records/journal.ts'
import { createPart } from '../../server/records/parts.ts'
import { photoPath } from '../../server/records/photo-path.ts'
import { countStock } from '../../server/records/stock.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { fit, household, join as joined, value } from './book.ts'

export const clock: Clock = fixedClock('2026-11-26T12:00:00Z')
export type House = { readonly db: Db; readonly actor: Actor; readonly data: string }
export type Small = House & {
  readonly vehicleId: string
  readonly otherId: string
  readonly fuse: string
  readonly lamp: string
  /** the entry that was withdrawn and brought back */
  readonly broughtBack: string
  readonly photo: string
}

export function house(folder: string, name = 'Owner'): House {
  const db = openDatabase(':memory:')
  return { db, actor: household(db, clock, name), data: mkdtempSync(join(folder, 'data-')) }
}

/** Two vehicles, three parts, a correction, a withdrawal, an entry brought back, stock, a price, a leftover, a photo with a mark. */
export function small(folder: string): Small {
  const own = house(folder)
  const { db, actor, data } = own
  const vehicleId = value(createVehicle(db, clock, actor, { name: 'Fern', systemVoltage_V: 12 })).id
  const otherId = value(createVehicle(db, clock, actor, { name: 'Moss', systemVoltage_V: 24 })).id
  const part = (kind: string, name: string, ratings: Record<string, number | string>) =>
    value(createPart(db, clock, actor, { kind, name, ratings })).id
  const fuse = part('fuse', '10 A fuse', { rated_A: 10 })
  const lamp = part('load', 'Lamp', { behaviour: 'current', current_A: 4 })
  const other = part('fuse', 'A fuse of the other', { rated_A: 5 })
  const add = (vehicle: string, on: string, title: string, changes: Parameters<typeof append>[3]['changes'], more = {}) =>
    value(append(db, clock, actor, { vehicleId: vehicle, effectiveOn: on, title, changes, ...more })).id
  add(vehicleId, '2024-05-01', 'Lamp fitted', [fit('f1', fuse), fit('l1', lamp), joined('f1:out', 'l1:+')], { cost_minor: 7654321 })
  add(otherId, '2024-06-01', 'Fuse fitted', [fit('f1', other)])
  const wrong = add(vehicleId, '2024-07-01', 'Lamp looked at', [{ kind: 'noted', component: 'l1', text: 'Dim' }])
  value(
    correct(db, clock, actor, wrong, {
      vehicleId,
      effectiveOn: '2024-07-02',
      title: 'Lamp looked at again',
      changes: [{ kind: 'noted', component: 'l1', text: 'Ünïcode ‘quotes’ 🔧' }],
    }),
  )
  value(withdraw(db, clock, actor, add(vehicleId, '2024-08-01', 'Taken back', [{ kind: 'removed', component: 'l1', fate: 'shelf' }])))
  const broughtBack = add(vehicleId, '2024-09-01', 'Brought back later', [{ kind: 'serviced', component: 'f1', text: 'Contacts cleaned' }])
  value(withdraw(db, clock, actor, broughtBack))
  const withdrawal = db.$client.prepare('SELECT id FROM entries WHERE corrects_id = ?').pluck().get(broughtBack) as string
  value(withdraw(db, clock, actor, withdrawal))
  value(countStock(db, clock, actor, fuse, 3, 'Drawer'))
  const recorded = { household_id: actor.householdId, recorded_at: clock.now().toISOString(), recorded_by: actor.personId }
  const bought = { bought_on: '2024-04-01', count: 2, price_minor: 450, supplier: 'SUPPLIER-SENTINEL' }
  insert(db, 'purchases', { id: newId(clock), part_id: fuse, ...bought, ...recorded })
  insert(db, 'leftovers', { id: newId(clock), part_id: fuse, length_m: 1.5, place: 'Hook', used_at: null, ...recorded })
  insert(db, 'settings', { household_id: actor.householdId, name: 'currency', value: '€' })
  const photo = newId(clock)
  const bytes = Buffer.concat([Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]), Buffer.from('an invented picture')])
  const kept = { sha256: sha(bytes), type: 'image/png' }
  const said = { bytes: bytes.length, width_px: 3, height_px: 2, file_name: 'a.png', caption: '', once_key: null, trashed_at: null }
  insert(db, 'photos', {
    ...{ id: photo, vehicle_id: vehicleId, entry_place_id: null, part_id: null, component_key: 'l1' },
    ...{ ...kept, ...said, ...recorded },
  })
  insert(db, 'photo_marks', { id: newId(clock), photo_id: photo, component_key: 'l1', x: 0.25, y: 0.5, ...recorded })
  const path = photoPath({ data, ...kept })
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(path, bytes)
  return { ...own, vehicleId, otherId, fuse, lamp, broughtBack, photo }
}

export function insert(db: Db, table: string, row: Readonly<Record<string, unknown>>): void {
  const names = Object.keys(row)
  db.$client
    .prepare(`INSERT INTO ${table} (${names.join(', ')}) VALUES (${names.map(() => '?').join(', ')})`)
    .run(...(Object.values(row) as (string | number | null)[]))
}

export async function out(from: House, folder: string, scope: ArchiveScope = {}): Promise<Buffer> {
  const to = join(folder, `${newId(clock)}.zip`)
  await writeArchive(from.db, clock, from.actor, { ...scope, data: from.data, to })
  return readFileSync(to)
}

/** The bytes are put beside the data folder, not in it. */
export async function into(to: House, bytes: Buffer, more: Partial<Parameters<typeof importArchive>[3]> = {}) {
  const path = join(dirname(to.data), 'sent.zip')
  writeFileSync(path, bytes)
  return importArchive(to.db, clock, to.actor, { data: to.data, path, ...more })
}

/** Every file of a zip by name, by the central directory (APPNOTE 4.3), for plain zips only. */
export function readZip(bytes: Buffer): Map<string, Buffer> {
  const end = bytes.lastIndexOf(Buffer.from([0x50, 0x4b, 5, 6]))
  const found = new Map<string, Buffer>()
  let at = bytes.readUInt32LE(end + 16)
  for (let n = bytes.readUInt16LE(end + 10); n > 0; n--) {
    const [method, size] = [bytes.readUInt16LE(at + 10), bytes.readUInt32LE(at + 20)]
    const [names, extra, comment] = [bytes.readUInt16LE(at + 28), bytes.readUInt16LE(at + 30), bytes.readUInt16LE(at + 32)]
    const local = bytes.readUInt32LE(at + 42)
    const start = local + 30 + bytes.readUInt16LE(local + 26) + bytes.readUInt16LE(local + 28)
    const packed = bytes.subarray(start, start + size)
    found.set(bytes.toString('utf8', at + 46, at + 46 + names), method === 0 ? packed : inflateRawSync(packed))
    at += 46 + names + extra + comment
  }
  return found
}

export type Lie = {
  readonly flags?: number
  readonly mode?: number
  readonly crc?: number
  readonly size?: number
  readonly packedSize?: number
  readonly method?: number
  readonly packed?: Buffer
  readonly at?: number
  /** the name at the file itself, where it is another than in the directory */
  readonly localName?: string
}

export function makeZip(files: readonly (readonly [string, Buffer, Lie?])[], said: { readonly entries?: number } = {}): Buffer {
  const bodies: Buffer[] = []
  const heads: Buffer[] = []
  let offset = 0
  for (const [name, bytes, lie = {}] of files) {
    const packed = lie.packed ?? deflateRawSync(bytes)
    const label = Buffer.from(name)
    const common = Buffer.alloc(26)
    common.writeUInt16LE(20, 0)
    common.writeUInt16LE((lie.flags ?? 0) | 0x800, 2)
    common.writeUInt16LE(lie.method ?? 8, 4)
    common.writeUInt32LE(lie.crc ?? crc32(bytes), 10)
    common.writeUInt32LE(lie.packedSize ?? packed.length, 14)
    common.writeUInt32LE(lie.size ?? bytes.length, 18)
    common.writeUInt16LE(label.length, 22)
    const head = Buffer.alloc(46)
    head.writeUInt32LE(0x02014b50, 0)
    head.writeUInt16LE((3 << 8) | 20, 4)
    common.copy(head, 6)
    head.writeUInt32LE(((lie.mode ?? 0o100600) << 16) >>> 0, 38)
    head.writeUInt32LE(lie.at ?? offset, 42)
    heads.push(head, label)
    const local = Buffer.concat([Buffer.from([0x50, 0x4b, 3, 4]), common, Buffer.from(lie.localName ?? name), packed])
    bodies.push(local)
    offset += local.length
  }
  const directory = Buffer.concat(heads)
  const end = Buffer.alloc(22)
  end.writeUInt32LE(0x06054b50, 0)
  end.writeUInt16LE(Math.min(said.entries ?? files.length, 0xffff), 8)
  end.writeUInt16LE(Math.min(said.entries ?? files.length, 0xffff), 10)
  end.writeUInt32LE(directory.length, 12)
  end.writeUInt32LE(offset, 16)
  return Buffer.concat([...bodies, directory, end])
}

/** The archive with files changed, and a manifest that says so. */
export function forged(from: Buffer, change: (files: Map<string, Buffer>) => void, more: object = {}): Buffer {
  const files = readZip(from)
  files.delete('manifest.json')
  change(files)
  return makeZip([...[...files].map(([name, bytes]) => [name, bytes] as const), ['manifest.json', manifestOf(files, more)]])
}

type Line = Record<string, unknown>
/** The archive with the lines of one table changed. */
export function forgedLines(from: Buffer, table: string, change: (lines: Line[]) => void): Buffer {
  return forged(from, (files) => {
    const name = `records/${table}.jsonl`
    const lines = String(files.get(name))
      .split('\n')
      .slice(0, -1)
      .map((line) => JSON.parse(line) as Line)
    change(lines)
    files.set(name, Buffer.from(lines.map((line) => `${JSON.stringify(line)}\n`).join('')))
  })
}

export function manifestOf(files: ReadonlyMap<string, Buffer>, more: object = {}): Buffer {
  const rows = (name: string, bytes: Buffer) => (name.endsWith('.jsonl') ? { rows: bytes.toString('latin1').split('\n').length - 1 } : {})
  const said = [...files].map(([name, bytes]) => [name, { bytes: bytes.length, sha256: sha(bytes), ...rows(name, bytes) }])
  const head = { format: FORMAT, madeAt: '2026-06-01T12:00:00.000Z', schemaVersion: 3, scope: 'household' }
  return Buffer.from(JSON.stringify({ ...head, files: Object.fromEntries(said), ...more }))
}

export function sha(bytes: Buffer): string {
  return createHash('sha256').update(bytes).digest('hex')
}

/** Every file under a folder. */
export function tree(path: string): string[] {
  if (!existsSync(path)) return []
  return readdirSync(path, { recursive: true, withFileTypes: true }).flatMap((one) =>
    one.isFile() ? [join(one.parentPath, one.name)] : [],
  )
}
