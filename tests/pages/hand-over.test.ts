import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { readHandOver } from '../../server/pages/b/form.ts'
import { scopes } from '../../server/pages/b/scopes/index.ts'
import { createVehicle } from '../../server/records/vehicles.ts'
import { FormReader } from '../../server/web/form.ts'
import { type Book, openBook, TODAY } from './book.ts'
import { textOf } from './markup.ts'

let book: Book
let page = ''
beforeAll(async () => {
  book = await openBook()
  page = `/vehicles/${book.vehicles[0]}/hand-over`
})
afterAll(() => book.close())

const FORM = { chosen: 'yes', preset: 'buyer', recipient: 'A buyer', expiresOn: '2026-12-24', 'page-overview': 'yes', 'page-parts': 'yes' }
const linkIn = (body: string) => /id="link"[^>]*value="([^"]+)"/.exec(body)?.[1] ?? ''
const stranger = (url: string) => book.app.inject(url)

test('a preset is filled in: pages, no private thing, a recipient, and an end that is 90 or 30 days off', () => {
  const read = (body: Record<string, string>) => readHandOver(new FormReader(body), { today: TODAY, made: 0 })
  expect(read({})).toMatchObject({ preset: 'buyer', recipient: 'Buyer 1', expiresOn: '2027-02-23' })
  expect(read({ preset: 'workshop' })).toMatchObject({ recipient: 'Workshop 1', expiresOn: '2026-12-25' })
  for (const preset of ['buyer', 'workshop'] as const) {
    const { shows } = read({ preset })
    expect(shows).toMatchObject({ lets: [], journalFrom: null, withoutPhotos: [] })
    expect(shows.pages).toEqual(scopes.filter((one) => one.presets.includes(preset)).map((one) => one.id))
    expect(shows.pages.length).toBeGreaterThan(3)
  }
  // What is unticked stays so, though a preset would tick it.
  expect(
    read({ preset: 'buyer', chosen: 'yes', 'page-parts': 'yes', 'let-vin': 'yes', 'let-everything': 'yes', 'page-nothing': 'yes' }).shows,
  ).toMatchObject({ pages: ['parts'], lets: ['vin'] })
})

test('the link is shown once, opens without signing in, and is listed with what it shows, its end and its last use', async () => {
  const before = textOf((await book.get(page)).body)
  expect(before).toContain('None yet.')
  const made = await book.post(page, FORM)
  expect(made.statusCode).toBe(201)
  const link = linkIn(made.body)
  expect(link).toMatch(/^http:\/\/localhost(:80)?\/b\/[\w-]{43}$/)
  const token = link.split('/b/')[1] as string
  expect((await book.get(page)).body).not.toContain(token)
  expect(textOf((await book.get(page)).body)).toMatch(/A buyer Overview, Parts until 24 December 2026; never opened/)
  expect((await stranger(`/b/${token}`)).statusCode).toBe(200)
  expect((await stranger(`/b/${token}/parts`)).statusCode).toBe(200)
  expect((await stranger(`/b/${token}/journal`)).statusCode).toBe(404)
  expect(textOf((await book.get(page)).body)).toContain('last opened 25 November 2026, 12:00')
  const revocations = /action="([^"]+revocations)"/.exec((await book.get(page)).body)?.[1] as string
  expect((await book.post(revocations, {})).statusCode).toBe(303)
  expect((await book.post(revocations, {})).statusCode).toBe(303)
  expect((await stranger(`/b/${token}`)).statusCode).toBe(404)
  expect(textOf((await book.get(page)).body)).toContain('taken back')
})

describe('what is previewed', () => {
  test('is what the link shows: the same pages, word for word but for the addresses and the line that says it is a preview', async () => {
    const ticks = { ...FORM, 'page-journal': 'yes', 'page-findings': 'yes', 'page-wiring': 'yes' }
    const shown = await book.post(`${page.replace('hand-over', 'hand-over-previews')}`, ticks)
    expect(shown.statusCode).toBe(303)
    const query = (shown.headers.location as string).split('?')[1]?.split('#')[0]
    const link = new URL(linkIn((await book.post(page, ticks)).body)).pathname
    const main = (body: string) => {
      const text = body.slice(body.indexOf('<h1>'), body.indexOf('<footer>'))
      return text.replaceAll(/href="[^"]*"/g, 'href')
    }
    for (const one of ['', '/parts', '/journal', '/findings', '/wiring']) {
      const previewed = await book.get(`${page}/preview${one}?${query}`)
      expect(previewed.body).toContain('A preview: nothing has been handed out.')
      expect(main(previewed.body), one).toBe(main((await stranger(`${link}${one}`)).body))
    }
    expect((await book.get(`${page}/preview/costs?${query}`)).statusCode).toBe(404)
    expect(Number(book.db.$client.prepare("SELECT count(*) FROM shares WHERE recipient = 'A buyer'").pluck().get())).toBe(2)
  })

  test('stands on the page before the link is made, and nothing is stored by looking', async () => {
    const count = () => Number(book.db.$client.prepare('SELECT count(*) FROM shares').pluck().get())
    const before = count()
    const { body } = await book.get(page)
    expect(body.indexOf('id="preview"')).toBeGreaterThan(0)
    expect(body).toContain('The check judged')
    expect(count()).toBe(before)
  })
})

describe('what is refused', () => {
  test.each([
    ['nobody named', { ...FORM, recipient: ' ' }, 'Say who it is for'],
    ['a name too long', { ...FORM, recipient: 'x'.repeat(81) }, 'At most 80 characters'],
    ['nothing to show', { chosen: 'yes', recipient: 'A buyer', expiresOn: '2026-12-24' }, 'Tick at least one page'],
    ['a last day gone by', { ...FORM, expiresOn: '2026-11-24' }, 'still to come'],
    ['an end past two years', { ...FORM, expiresOn: '2030-01-01' }, 'within two years'],
    ['no such day', { ...FORM, expiresOn: '2026-02-30' }, 'There is no 2026-02-30'],
    ['no such day to begin', { ...FORM, from: '2026-13-01' }, 'There is no 2026-13-01'],
  ])('%s: said in words, typed text kept, no link made', async (_, fields, says) => {
    const count = () => Number(book.db.$client.prepare('SELECT count(*) FROM shares').pluck().get())
    const before = count()
    const reply = await book.post(page, fields)
    expect(reply.statusCode).toBe(422)
    expect(textOf(reply.body)).toContain(says)
    expect(linkIn(reply.body)).toBe('')
    expect(count()).toBe(before)
  })

  test('another household’s vehicle, a viewer, an editor and a stranger make no link and see none', async () => {
    const other = createVehicle(
      book.db,
      book.clock,
      { householdId: book.actor.householdId, personId: book.actor.personId, name: '' },
      { name: 'Gone', systemVoltage_V: 12 },
    )
    if (!other.ok) throw new Error('no vehicle')
    book.db.$client.pragma('foreign_keys = OFF')
    book.db.$client.prepare("UPDATE vehicles SET household_id = '01900000-0000-7000-8000-000000000099' WHERE id = ?").run(other.value.id)
    for (const url of [`/vehicles/${other.value.id}/hand-over`, `/vehicles/${other.value.id}/hand-over/preview`])
      expect((await book.get(url)).statusCode, url).toBe(404)
    expect((await book.post(`/vehicles/${other.value.id}/hand-over`, FORM)).statusCode).toBe(404)
    for (const role of ['viewer', 'editor']) {
      book.db.$client.prepare('UPDATE people SET role = ? WHERE id = ?').run(role, book.actor.personId)
      expect((await book.get(page)).statusCode, role).toBe(403)
      expect((await book.get(`${page}/preview/parts?chosen=yes&page-parts=yes`)).statusCode, role).toBe(403)
      expect((await book.post(page, FORM)).statusCode, role).toBe(403)
    }
    book.db.$client.prepare("UPDATE people SET role = 'owner' WHERE id = ?").run(book.actor.personId)
    expect((await stranger(page)).statusCode).toBe(303)
    expect((await stranger(`${page}/preview/p/photo-1.jpg`)).statusCode).toBe(303)
    expect((await book.post(page, { ...FORM, _token: 'wrong' })).statusCode).toBe(403)
  })
})

test('identity is said in an entry, kept apart from the wiring’s document, and shown anew in its form', async () => {
  const vehicle = page.replace('/hand-over', '')
  const saved = await book.post(`${vehicle}/identity`, {
    make: 'Invented',
    model: 'Two',
    year: '1964',
    vin: 'XX1',
    plate: 'AB 12',
    keptAt: 'Here',
  })
  expect(saved.headers.location).toMatch(/^\/entries\//)
  const { body } = await book.get(`${vehicle}/identity`)
  for (const one of ['Invented', 'Two', '1964', 'XX1', 'AB 12', 'Here']) expect(body).toContain(`value="${one}"`)
  expect((await book.get(`${vehicle}/document.json`)).body).not.toContain('XX1')
  expect((await book.post(`${vehicle}/identity`, { vin: 'x'.repeat(41) })).statusCode).toBe(422)
  expect((await book.get(`${vehicle}/identity`)).body).toContain('value="XX1"')
})
