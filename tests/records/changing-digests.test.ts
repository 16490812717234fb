import { scryptSync } from 'node:crypto'
import { cpSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { expect, it, vi } from 'vitest'
import { keepChangingDigest, wrongChangingRows } from '../../server/records/changing-digests.ts'
import { fixedClock } from '../../server/records/clock.ts'
import { AlteredRow, forgetDamage, notedDamage } from '../../server/records/damage.ts'
import { closeDatabase, type Db, openDatabase } from '../../server/records/database.ts'
import { soundness } from '../../server/records/database-file.ts'
import { setEmail } from '../../server/records/identities.ts'
import { createOwner, setDisabled, setPassword, setRole, signIn } from '../../server/records/people.ts'
import { removeSecondFactor } from '../../server/records/second-factor.ts'
import { setCurrency } from '../../server/records/settings.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { value } from './book.ts'

const clock = fixedClock('2026-06-01T12:00:00Z')
const password = 'a long enough word'

function house() {
  const db = openDatabase(':memory:')
  const actor = value(createOwner(db, clock, { name: 'Robin', password }))
  const id = value(createVehicle(db, clock, actor, { name: 'Bramble', systemVoltage_V: 12, notes: 'From the yard' })).id
  value(setCurrency(db, actor, 'kr'))
  value(setEmail(db, clock, actor, { personId: actor.personId, email: 'robin@garage.example' }))
  return { db, actor, vehicleId: id }
}

const vouched = (db: Db) => db.$client.prepare('SELECT table_name FROM changing_digests ORDER BY 1').pluck().all()

it('every vehicle, person and setting has its digest once it is written, and keeps a right one through every change (R6)', async () => {
  const { db, actor } = house()
  expect(vouched(db)).toEqual(['people', 'settings', 'vehicles'])
  const right = (after: string) => expect(wrongChangingRows(db.$client), after).toEqual([])
  right('writing')
  value(setCurrency(db, actor, '€'))
  value(setEmail(db, clock, actor, { personId: actor.personId, email: '' }))
  right('another currency and no address')
  value(await setPassword(db, clock, actor, { password: 'another long enough word', butToken: null }))
  right('another password')
  // A last owner stays one: a second person is changed instead.
  const other = '01900000-0000-7000-8000-000000000009'
  db.$client
    .prepare(
      "INSERT INTO people (id, household_id, name, name_folded, password_hash, recorded_at) VALUES (?, ?, 'Sam', 'sam', 'scrypt$none', 'x')",
    )
    .run(other, actor.householdId)
  right('a person put in by somebody else’s program')
  value(setRole(db, clock, actor, other, 'editor'))
  value(setDisabled(db, clock, actor, other, true))
  right('another role, and no way in')
  expect(vouched(db)).toEqual(['people', 'people', 'settings', 'vehicles'])
})

it.each([
  ['vehicles', 'name', "'Bramblf'"],
  ['vehicles', 'notes', "'From the zard'"],
  ['vehicles', 'system_voltage_v', '24'],
  ['people', 'name', "'Robio'"],
  ['people', 'role', "'viewer'"],
  ['people', 'password_hash', "'scrypt$16384$8$1$aa$bb'"],
  ['people', 'email_folded', "'robin@garage.exbmple'"],
  ['settings', 'value', "'ks'"],
])('a value changed in %s (%s) behind its back is named, and so is a row that is gone (R6)', (table, column, other) => {
  const { db } = house()
  expect(soundness(db.$client)).toEqual([])
  db.$client.exec(`UPDATE ${table} SET ${column} = ${other}`)
  expect(wrongChangingRows(db.$client)).toMatchObject([{ table, fault: 'altered' }])
  expect(soundness(db.$client)).toMatchObject([expect.stringContaining(`of ${table} is not as it was written.`)])
  db.$client.pragma('foreign_keys = OFF')
  db.$client.exec(`DELETE FROM ${table}`)
  expect(wrongChangingRows(db.$client)).toMatchObject([{ table, fault: 'missing' }])
})

it('a database of before gets them at its first start, and never again', () => {
  const folder = mkdtempSync(join(tmpdir(), 'digests-'))
  const file = join(folder, 'loombook.sqlite')
  cpSync(join(import.meta.dirname, '../fixtures/0005/loombook.sqlite'), file)
  const db = openDatabase(file)
  expect(vouched(db)).toEqual(['people', 'vehicles'])
  db.$client.exec("DELETE FROM changing_digests WHERE table_name = 'vehicles'")
  closeDatabase(db)
  const again = openDatabase(file)
  expect(vouched(again)).toEqual(['people'])
  closeDatabase(again)
  rmSync(folder, { recursive: true })
})

it('a change of a row that was altered is refused, and what was altered is still named after it (R6)', async () => {
  const { db, actor, vehicleId } = house()
  db.$client.exec("UPDATE people SET name = 'Robio'; UPDATE settings SET value = 'ks'; UPDATE vehicles SET name = 'Bramblf'")
  const before = wrongChangingRows(db.$client)
  expect(before).toHaveLength(3)
  const changes: readonly (() => unknown)[] = [
    () => setEmail(db, clock, actor, { personId: actor.personId, email: 'other@garage.example' }),
    () => setRole(db, clock, actor, actor.personId, 'owner'),
    () => setDisabled(db, clock, actor, actor.personId, false),
    () => setPassword(db, clock, actor, { password: 'another long enough word', butToken: null }),
    () => removeSecondFactor(db, clock, actor),
    () => setCurrency(db, actor, '€'),
    () => keepChangingDigest(db, 'vehicles', vehicleId),
  ]
  for (const change of changes) {
    forgetDamage(db)
    await expect(async () => change(), String(change)).rejects.toThrow(AlteredRow)
    expect(notedDamage(db), String(change)).toContain('is not as it was written.')
    expect(wrongChangingRows(db.$client), String(change)).toEqual(before)
  }
  expect(db.$client.prepare('SELECT email FROM people').pluck().get()).toBe('robin@garage.example')
})

it('a password that would be hashed anew at a sign-in stays as it is in a row that was altered (R6)', async () => {
  const { db, actor } = house()
  const salt = Buffer.from('00112233445566778899aabbccddeeff', 'hex')
  const old = `scrypt$16384$8$1$${salt.toString('base64url')}$${scryptSync(password, salt, 32, { N: 16384, r: 8, p: 1 }).toString('base64url')}`
  db.$client.prepare('UPDATE people SET password_hash = ?').run(old)
  db.$client.exec("DELETE FROM changing_digests WHERE table_name = 'people'")
  keepChangingDigest(db, 'people', actor.personId)
  db.$client.exec("UPDATE people SET email = 'robin@garage.exbmple'")
  value(await signIn(db, clock, { name: 'Robin', password }))
  expect(db.$client.prepare('SELECT password_hash FROM people').pluck().get()).toBe(old)
  expect(notedDamage(db)).toContain('is not as it was written.')
  expect(wrongChangingRows(db.$client)).toMatchObject([{ table: 'people', fault: 'altered' }])
  db.$client.exec("UPDATE people SET email = 'robin@garage.example'")
  value(await signIn(db, clock, { name: 'Robin', password }))
  expect(db.$client.prepare('SELECT password_hash FROM people').pluck().get()).not.toBe(old)
  expect(wrongChangingRows(db.$client)).toEqual([])
})

it('what another process writes while rows are compared is no damage', () => {
  const folder = mkdtempSync(join(tmpdir(), 'digests-'))
  const file = join(folder, 'loombook.sqlite')
  const db = openDatabase(file)
  const actor = value(createOwner(db, clock, { name: 'Robin', password }))
  const other = openDatabase(file)
  const prepare = db.$client.prepare.bind(db.$client)
  let written = 0
  // The digests are read by now, the people are not.
  const reading = vi.spyOn(db.$client, 'prepare').mockImplementation((sql: string) => {
    if (written === 0 && sql.endsWith('FROM people NOT INDEXED')) {
      written++
      value(setEmail(other, clock, actor, { personId: actor.personId, email: 'robin@garage.example' }))
    }
    return prepare(sql)
  })
  expect(wrongChangingRows(db.$client)).toEqual([])
  reading.mockRestore()
  expect(written).toBe(1)
  expect(wrongChangingRows(db.$client)).toEqual([])
  for (const one of [other, db]) closeDatabase(one)
  rmSync(folder, { recursive: true })
})
