/** `npm run bench -- restore [MB]`: a household with photos is backed up and restored into an empty folder; seconds for each GB of the backup. */
import { createHash } from 'node:crypto'
import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { cpus, loadavg, tmpdir } from 'node:os'
import { join } from 'node:path'
import sharp from 'sharp'
import { makeBackup, verifyBackup } from '../records/backup.ts'
import { systemClock } from '../records/clock.ts'
import { rowCounts } from '../records/database-file.ts'
import { closeDatabase, openDatabase } from '../records/database.ts'
import { keepMissingDigests } from '../records/digests.ts'
import { generateHousehold } from '../records/generated/household.ts'
import { createOwner } from '../records/people.ts'
import { storePhoto } from '../records/photos.ts'
import { bringPhotos, finishRestore, restoreBackup } from '../records/restore.ts'

const owner = { name: 'Owner', password: 'a long enough word' }
const size = { vehicles: 10, entriesPerVehicle: 200, parts: 500, photosPerVehicle: 0 }
const LIMIT_sPerGB = 60

export async function benchRestore(megabytes: number): Promise<void> {
  const folder = mkdtempSync(join(tmpdir(), 'loombook-restore-'))
  try {
    await restoreTimed(folder, megabytes)
  } finally {
    rmSync(folder, { recursive: true })
  }
}

async function restoreTimed(folder: string, megabytes: number): Promise<void> {
  const [data, backups, empty] = ['data', 'backups', 'restored'].map((name) => join(folder, name)) as [string, string, string]
  for (const one of [data, backups, empty]) mkdirSync(one)
  const db = openDatabase(join(data, 'loombook.sqlite'))
  const made = createOwner(db, systemClock, owner)
  if (!made.ok) throw new Error('no owner')
  const vehicles = generateHousehold(db, systemClock, made.value, size)
  keepMissingDigests(db)
  const pictures = await photographs()
  let kept_B = 0
  let photos = 0
  for (; kept_B < megabytes * 1e6; photos++) {
    const bytes = told(pictures[photos % pictures.length] as Buffer, `photo ${photos}`)
    const path = join(data, `sent-${photos}.jpg`)
    writeFileSync(path, bytes)
    const received = { path, bytes: bytes.length, sha256: createHash('sha256').update(bytes).digest('hex'), fileName: `${photos}.jpg` }
    const vehicleId = vehicles[photos % vehicles.length] as string
    const stored = await storePhoto(db, systemClock, made.value, { data, received, vehicleId })
    if (!stored.ok) throw new Error(stored.refusals[0]?.sentence)
    kept_B += bytes.length
  }
  const before = rowCounts(db.$client)
  const backup = await timed(() => makeBackup({ db, clock: systemClock, data, folder: backups }))
  closeDatabase(db)
  const GB = backup.value.bytes / 1e9
  print(
    `${size.vehicles} vehicles, ${before.entries} entries, ${photos} photos; the backup is ${(GB * 1000).toFixed(0)} MB, made in ${backup.s.toFixed(1)} s`,
  )

  const restored = await timed(async () => {
    const done = await restoreBackup({ from: backup.value.folder, data: empty, askedAt: systemClock.now().toISOString(), present: null })
    if (!done.ok) throw new Error(done.faults.join(' '))
    await finishRestore(empty)
    return openDatabase(join(empty, 'loombook.sqlite'))
  })
  const after = rowCounts(restored.value.$client)
  closeDatabase(restored.value)
  const differ = Object.keys(before).filter((table) => before[table] !== after[table])
  const wrong = [
    ...(await verifyBackup(backup.value.folder)),
    ...differ.map((table) => `${table} has ${after[table]} rows of ${before[table]}`),
  ]
  if ((await bringPhotos(backup.value.folder, empty)) > 0) wrong.push('photos were missing or altered')
  if (wrong.length > 0) throw new Error(wrong.join(' '))
  const each_sPerGB = restored.s / GB
  print(
    `restored into an empty folder in ${restored.s.toFixed(1)} s: ${each_sPerGB.toFixed(1)} s for each GB (at most ${LIMIT_sPerGB}); ${cpus().length} processors, load ${loadavg()[0]?.toFixed(1)}`,
  )
  if (each_sPerGB > LIMIT_sPerGB) process.exitCode = 1
}

/** Noise on a slope, as large as a phone's pictures are and as little to be squeezed. */
async function photographs(): Promise<readonly Buffer[]> {
  const [width, height] = [3000, 2250]
  return Promise.all(
    [0, 1, 2].map((n) =>
      sharp({ create: { width, height, channels: 3, background: '#777', noise: { type: 'gaussian', mean: 120 + n, sigma: 22 } } })
        .jpeg({ quality: 85 })
        .toBuffer(),
    ),
  )
}

/** The same picture with a comment of its own, and so with a hash of its own: a COM segment right after the start (ISO/IEC 10918-1, B.2.4.5). */
function told(picture: Buffer, words: string): Buffer {
  const text = Buffer.from(words)
  const length = Buffer.alloc(2)
  length.writeUInt16BE(text.length + 2)
  return Buffer.concat([picture.subarray(0, 2), Buffer.from([0xff, 0xfe]), length, text, picture.subarray(2)])
}

async function timed<T>(work: () => Promise<T>): Promise<{ readonly value: T; readonly s: number }> {
  const start = performance.now()
  const value = await work()
  return { value, s: (performance.now() - start) / 1000 }
}

function print(line: string): void {
  process.stdout.write(`${line}\n`)
}
