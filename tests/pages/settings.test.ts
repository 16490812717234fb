/** The settings page: backups made, tried, restored; what is done when records are damaged or the disk is full. */
import { existsSync, readdirSync, rmSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import sharp from 'sharp'
import { afterEach, beforeEach, describe, expect, test } from 'vitest'
import { alarmOf } from '../../server/records/alarms.ts'
import { noteDamage } from '../../server/records/damage.ts'
import { closeDatabase, openDatabase } from '../../server/records/database.ts'
import { runNow } from '../../server/records/jobs.ts'
import { finishRestore } from '../../server/records/restore.ts'
import { addWebhook, queueAlarm } from '../../server/records/webhooks.ts'
import { value } from '../records/book.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf } from './markup.ts'

let book: Book
beforeEach(async () => {
  book = await openBook({ demo: false })
  await book.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })
})
afterEach(() => book.close())

const names = () => readdirSync(join(book.data, 'backups'))
const photo = async () => {
  const vehicle = /\/vehicles\/([0-9a-f-]{36})/.exec((await book.get('/')).body)?.[1]
  const bytes = await sharp({ create: { width: 20, height: 20, channels: 3, background: '#333' } })
    .png()
    .toBuffer()
  return book.send(`/vehicles/${vehicle}/photos`, { files: [{ name: 'a.png', bytes }] })
}

describe('backups', () => {
  test('made by one press, listed with what is inside, tried', async () => {
    expect((await book.get('/settings')).body).toContain('There is no backup yet')
    await photo()
    const made = await book.post('/settings/backups', {})
    expect([made.statusCode, names().length]).toEqual([200, 1])
    expect(made.body).toMatch(/Last good backup: less than an hour ago, [\d.]+ MB, 0 entries, 1 photos and papers/)
    const tried = await book.post(`/settings/backups/${names()[0]}/trials`, {})
    expect(tried.body).toContain('It can be restored: 0 entries, 0 parts, 1 photos and papers came back whole.')
    expect(existsSync(join(book.data, 'tmp')) ? readdirSync(join(book.data, 'tmp')) : []).toEqual([])
  })
  test('one that was altered says so, and is not restored', async () => {
    await book.post('/settings/backups', {})
    writeFileSync(join(book.data, 'backups', names()[0] as string, 'loombook.sqlite'), 'no database')
    const address = `/settings/backups/${names()[0]}`
    expect((await book.post(`${address}/trials`, {})).body).toContain('This backup is not whole')
    expect((await book.post(`${address}/restorations`, {})).statusCode).toBe(422)
    expect(existsSync(join(book.data, 'restore-pending.json'))).toBe(false)
  })
  test('R10: restored at the next start: the vehicle deleted from nothing is there, what came later is not; the present is kept first', async () => {
    await photo()
    await book.post('/settings/backups', {})
    const [name] = names()
    await book.post('/vehicles', { name: 'Later', systemVoltage_V: '12' })
    expect((await book.post(`/settings/backups/${name}/restorations`, {})).body).toContain('takes its place at the next start')
    expect(names().some((one) => one.endsWith('before-restore'))).toBe(true)
    expect(await finishRestore(book.data)).toContain('is in place')
    const restored = openDatabase(join(book.data, 'loombook.sqlite'))
    expect(restored.$client.prepare('SELECT name FROM vehicles').pluck().all()).toEqual(['Fern'])
    expect(restored.$client.prepare('SELECT count(*) FROM photos').pluck().get()).toBe(1)
    closeDatabase(restored)
  })
  test('only owners; an address of another folder is none', async () => {
    for (const path of ['..', '..%2f..', 'nothing']) expect((await book.get(`/settings/backups/${path}`)).statusCode).not.toBe(500)
    expect((await book.get('/settings/backups/..%2f..')).statusCode).toBe(404)
    book.db.$client.prepare("UPDATE people SET role = 'editor'").run()
    expect((await book.get('/settings')).statusCode).toBe(403)
    expect((await book.post('/settings/backups', {})).statusCode).toBe(403)
  })
})

describe('records that are damaged (R6)', () => {
  test('a changed row is named, nothing is written until it is right again, and reading goes on', async () => {
    expect((await book.post('/settings/checks', {})).body).toContain('Every row and every photo is as it was written.')
    const part = await book.post('/parts', { kind: 'fuse', name: 'Five', rated_A: '5', 'grade-rated_A': 'marked' })
    expect(part.statusCode).toBe(303)
    const { $client } = book.db
    $client.exec('DROP TRIGGER part_revisions_no_update')
    $client.prepare("UPDATE part_revisions SET name = 'Fine'").run()
    const checked = await book.post('/settings/checks', {})
    expect(checked.statusCode).toBe(500)
    expect(checked.body).toContain('of part_revisions is not as it was written')
    const refused = await book.post('/vehicles', { name: 'X', systemVoltage_V: '12' })
    expect([refused.statusCode, refused.body.includes('nothing is written until a good backup is restored')]).toEqual([503, true])
    expect((await book.get('/')).statusCode).toBe(200)
    expect((await book.get('/archive/download')).statusCode).toBe(200)
    $client.prepare("UPDATE part_revisions SET name = 'Five'").run()
    await book.post('/settings/checks', {})
    expect((await book.post('/vehicles', { name: 'X', systemVoltage_V: '12' })).statusCode).toBe(303)
  })
  test('every page says so and leads an owner to what is damaged and to the last good backup; others are told', async () => {
    await book.close()
    let now = '2026-11-24T12:00:00Z'
    book = await openBook({ demo: false, clock: { now: () => new Date(now) } })
    expect((await book.get('/rescue')).body).toContain('Nothing is known to be damaged')
    await book.post('/settings/backups', {})
    const [good] = names()
    // Of one day only the newest would be kept.
    now = '2026-11-25T12:00:00Z'
    await book.post('/settings/backups', {})
    const newest = names().find((name) => name !== good) as string
    writeFileSync(join(book.data, 'backups', newest, 'loombook.sqlite'), 'no database')
    noteDamage(book.db, 'The row 7 of entries is gone.')
    for (const path of ['/', '/shelf', '/settings']) expect((await book.get(path)).body, path).toContain('href="/rescue"')
    const page = (await book.get('/rescue')).body
    expect(faultsOf(page)).toEqual([])
    expect(page).toContain('The row 7 of entries is gone.')
    expect(page).toContain(`/settings/backups/${good}`)
    expect(page).not.toContain(newest)
    book.db.$client.prepare("UPDATE people SET role = 'viewer'").run()
    const seen = (await book.get('/')).body
    expect([seen.includes('Records here are damaged'), seen.includes('href="/rescue"')]).toEqual([true, false])
    expect((await book.get('/rescue')).statusCode).toBe(403)
  })
  test('a fault of the file that a page meets shuts the house too, and is no fault of ours', async () => {
    const { $client } = book.db
    const prepare = $client.prepare.bind($client)
    $client.prepare = ((sql: string) => {
      if (sql.includes('search_index')) throw Object.assign(new Error('database disk image is malformed'), { code: 'SQLITE_CORRUPT' })
      return prepare(sql)
    }) as typeof $client.prepare
    const reply = await book.get('/search?q=fuse')
    expect([reply.statusCode, reply.body.includes('Records here are damaged')]).toEqual([503, true])
    expect((await book.post('/vehicles', { name: 'X', systemVoltage_V: '12' })).statusCode).toBe(503)
    expect((await book.get('/')).body).toContain('href="/rescue"')
  })
})

describe('R26: a backup that is late', () => {
  const says = 'The last good backup is 37 hours old.'
  test('stands on every page of an owner after 36 hours, on nobody else’s, and is told to other programs once a day', async () => {
    await book.post('/settings/backups', {})
    const ended = (hours: number) =>
      book.db.$client
        .prepare("UPDATE jobs SET last_good_at = ? WHERE name = 'backup'")
        .run(new Date(book.clock.now().getTime() - hours * 3_600_000).toISOString())
    ended(36)
    expect((await book.get('/')).body).not.toContain('last good backup is')
    ended(37.5)
    for (const path of ['/', '/shelf', '/settings']) expect((await book.get(path)).body, path).toContain(says)
    value(addWebhook(book.db, book.clock, book.actor, { url: 'https://hooks.example/loombook', faultOf: () => null }))
    expect([1, 2, 3].map(() => queueAlarm(book.db, book.clock, alarmOf(book.db, book.clock)))).toEqual([1, 0, 0])
    expect(book.db.$client.prepare('SELECT body FROM webhook_deliveries').pluck().get()).toContain(says)
    book.db.$client.prepare("UPDATE people SET role = 'editor'").run()
    expect((await book.get('/')).body).not.toContain(says)
  })
  test('one that failed is told at once; none at all after 36 hours of living here', async () => {
    expect(alarmOf(book.db, book.clock)).toBe(null)
    book.db.$client.prepare("INSERT INTO jobs VALUES ('backup', 'x', 'x', 'failed', 'There is not enough room.', NULL)").run()
    expect(alarmOf(book.db, book.clock)?.says).toContain('did not succeed. There is not enough room.')
    book.db.$client.prepare('DELETE FROM jobs').run()
    const later = { now: () => new Date(book.clock.now().getTime() + 37 * 3_600_000) }
    expect(alarmOf(book.db, later)?.says).toBe('There is no backup yet.')
  })
  test('one that is begun every night and killed every night is told of, however lately it was begun', async () => {
    await book.post('/settings/backups', {})
    const hence = (hours: number) => ({ now: () => new Date(book.clock.now().getTime() + hours * 3_600_000) })
    const killed = (hours: number) =>
      void runNow(book.db, hence(hours), { name: 'backup', title: 'Backup', every: 'night', run: () => new Promise<string>(() => {}) })
    const begun = () => book.db.$client.prepare("SELECT started_at FROM jobs WHERE name = 'backup' AND result IS NULL").pluck().get()
    killed(30)
    expect(begun()).toBe(hence(30).now().toISOString())
    expect(alarmOf(book.db, hence(31))).toBe(null)
    expect(alarmOf(book.db, hence(37))?.says).toBe(says)
    book.db.$client.prepare('DELETE FROM jobs').run()
    // The first of all, in a house that has stood for more than 36 hours.
    book.db.$client.prepare("INSERT INTO jobs (name, started_at, says) VALUES ('backup', ?, '')").run(hence(50).now().toISOString())
    expect(alarmOf(book.db, hence(50.5))?.says).toBe('No good backup is known of.')
  })
})

describe('a photo that is missing or altered (R7)', () => {
  test('is listed by name; records are not shut for it', async () => {
    await photo()
    const [path] = readdirSync(join(book.data, 'photos'), { recursive: true, withFileTypes: true }).flatMap((one) =>
      one.isFile() ? [join(one.parentPath, one.name)] : [],
    )
    writeFileSync(path as string, 'altered')
    const checked = await book.post('/settings/checks', {})
    expect(checked.body).toMatch(/The photo photos\/[0-9a-f]{2}\/[0-9a-f]{2}\/[0-9a-f]{64}\.png is not as it was written/)
    expect((await book.post('/vehicles', { name: 'X', systemVoltage_V: '12' })).statusCode).toBe(303)
  })
  test('comes back from a backup that has it, and what no backup has is named', async () => {
    await photo()
    await book.post('/settings/backups', {})
    const files = () =>
      readdirSync(join(book.data, 'photos'), { recursive: true, withFileTypes: true }).flatMap((one) =>
        one.isFile() ? [join(one.parentPath, one.name)] : [],
      )
    const [path] = files() as [string]
    writeFileSync(path, 'altered')
    expect((await book.post('/settings/photos', {})).body).toContain('1 photos and papers were brought back')
    expect((await book.post('/settings/checks', {})).body).toContain('Every row and every photo is as it was written.')
    writeFileSync(path, 'altered')
    rmSync(join(book.data, 'backups'), { recursive: true })
    expect((await book.post('/settings/photos', {})).body).toMatch(/No backup here has photos\/[0-9a-f/]+\.png whole/)
  })
})

describe('the disk is full (R4)', () => {
  test('a save answers 507 in plain words and leaves nothing; reading goes on; with room again it is saved', async () => {
    const { $client } = book.db
    const pages = Number($client.pragma('page_count', { simple: true }))
    $client.pragma(`max_page_count = ${pages}`)
    const text = 'x'.repeat(1900)
    const vehicle = /\/vehicles\/[0-9a-f-]{36}/.exec((await book.get('/')).body)?.[0] as string
    const log = (n: number) => book.post(`${vehicle}/entries`, { verb: 'noted', text: `${text}${n}`, on: '2026-11-20', do: 'save' })
    let last = await log(0)
    for (let n = 1; n < 400 && last.statusCode === 303; n++) last = await log(n)
    expect([last.statusCode, last.body.includes('The disk is full: nothing was saved')]).toEqual([507, true])
    const count = () => Number($client.prepare('SELECT count(*) FROM entries').pluck().get())
    const before = count()
    expect((await log(99)).statusCode).toBe(507)
    expect([count(), (await book.get(vehicle)).statusCode, $client.pragma('integrity_check', { simple: true })]).toEqual([
      before,
      200,
      'ok',
    ])
    $client.pragma('max_page_count = 1073741823')
    expect((await log(100)).statusCode).toBe(303)
  })
})
