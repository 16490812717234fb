/** A data folder as a household leaves it after years: its entries, and for every photo a file that its address answers with. */
import { createHash } from 'node:crypto'
import { mkdirSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import sharp from 'sharp'
import { makeToken } from '../../server/records/api-tokens.ts'
import { systemClock as clock } from '../../server/records/clock.ts'
import type { Actor, Result } from '../../server/records/contract.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { generateHousehold } from '../../server/records/generated/household.ts'
import { createOwner, invite, join as joinHousehold } from '../../server/records/people.ts'
import { photoPath } from '../../server/records/photo-path.ts'

export type YearsSize = {
  readonly years: number
  readonly vehicles: number
  readonly entries: number
  readonly photos: number
  readonly parts: number
  readonly people: number
}
export type MadeHousehold = { readonly names: readonly string[]; readonly apiToken: string }

export const PASSWORD = 'a long enough word'
/** The generator's months have so many days. */
const DAYS_a_year = 336
const PICTURES = 8
const SIDES_px = { width: 640, height: 480 } as const

/** All of it in `data`, which holds nothing yet. The first of the names is the owner's. */
export async function makeHouseholdOfYears(data: string, size: YearsSize): Promise<MadeHousehold> {
  mkdirSync(data, { recursive: true, mode: 0o700 })
  const pictures = await Promise.all(Array.from({ length: PICTURES }, (_, n) => picture(n)))
  const db = openDatabase(join(data, 'loombook.sqlite'))
  try {
    const names = Array.from({ length: size.people }, (_, n) => `Person ${n + 1}`)
    const owner = orThrow(createOwner(db, clock, { name: names[0] as string, password: PASSWORD }))
    for (const name of names.slice(1)) await letIn(db, owner, name)
    let photo = 0
    const entriesPerVehicle = Math.ceil(size.entries / size.vehicles)
    generateHousehold(db, clock, owner, {
      ...{ vehicles: size.vehicles, entriesPerVehicle, parts: size.parts },
      photosPerVehicle: Math.ceil(size.photos / size.vehicles),
      days: { firstYear: clock.now().getUTCFullYear() - size.years, entriesPerDay: entriesPerVehicle / (size.years * DAYS_a_year) },
      original: (id) => putOriginal(data, withComment(pictures[photo++ % PICTURES] as Buffer, id)),
    })
    return { names, apiToken: orThrow(makeToken(db, clock, owner, { name: 'Soak', scope: 'read', expiresOn: null })).token }
  } finally {
    closeDatabase(db)
  }
}

async function letIn(db: Db, owner: Actor, name: string): Promise<void> {
  const { token } = orThrow(invite(db, clock, owner, 'editor'))
  orThrow(await joinHousehold(db, clock, { token, name, password: PASSWORD }))
}

/** Not synced as a sent photo is: a household of years comes from a disk. */
function putOriginal(data: string, bytes: Buffer) {
  const sha256 = createHash('sha256').update(bytes).digest('hex')
  const path = photoPath({ data, sha256, type: 'image/jpeg' })
  mkdirSync(dirname(path), { recursive: true, mode: 0o700 })
  writeFileSync(path, bytes, { mode: 0o600 })
  return { sha256, bytes: bytes.length, width_px: SIDES_px.width, height_px: SIDES_px.height }
}

/** A JPEG with a comment segment behind its beginning (ITU-T T.81, B.2.4.5): another file of the same picture. */
function withComment(jpeg: Buffer, text: string): Buffer {
  const head = Buffer.from([0xff, 0xfe, 0, text.length + 2])
  return Buffer.concat([jpeg.subarray(0, 2), head, Buffer.from(text), jpeg.subarray(2)])
}

async function picture(n: number): Promise<Buffer> {
  const grain = { type: 'gaussian', mean: 70 + 15 * n, sigma: 12 } as const
  return sharp({ create: { ...SIDES_px, channels: 3, background: '#888', noise: grain } })
    .jpeg({ quality: 60 })
    .toBuffer()
}

function orThrow<T>(result: Result<T>): T {
  if (!result.ok) throw new Error(result.refusals[0]?.sentence)
  return result.value
}
