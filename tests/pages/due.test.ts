import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { stateOn } from '../../server/records/state.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, insideOf, tagsOf, textOf } from './markup.ts'

let book: Book
let V = ''
beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

const due = () => stateOn(book.db, book.actor, book.vehicles[0] as string).due
const item = (fields: Record<string, string>) => ({ what: 'Look at the strap', ...fields })

describe('the list of what is due', () => {
  test('is empty in words, and leads to the first thing to put there', async () => {
    const empty = await openBook({ demo: false })
    await empty.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })
    const { body } = await empty.get('/due')
    expect(faultsOf(body)).toEqual([])
    expect(body).toContain('Nothing is due')
    expect(body).toContain('/due-items/new">For Fern')
    await empty.close()
  })

  test('holds unfinished wiring, then overdue, soon and later, with an estimate marked as one', async () => {
    await book.post(`${V}/unfinished`, { components: 'r7', text: 'Lamp moved' })
    await book.post(`${V}/due-items`, item({ on: '2026-11-24', component: 'r7' }))
    await book.post(`${V}/due-items`, item({ what: 'Soon', on: '2026-12-01' }))
    // Bramble read 215,900 km on 14 February and 223,400 on 3 October: 7,500 km in 231 days. 6,600 km more take 203 days: 24 April 2027.
    await book.post(`${V}/due-items`, item({ what: 'By distance', odometer: '230000' }))
    for (const path of ['/due', `${V}/due`]) {
      const { body } = await book.get(path)
      const text = textOf(body)
      expect(text).toMatch(/Wiring to enter Lamp moved .* Overdue Look at the strap .* Soon Soon .* Later .*/)
      expect(text).toContain('Bramble, Relay R7, work lamps · 1 day ago')
      expect(text).toContain('6 600 km left · about April 2027 (estimate')
    }
    expect((await book.get(`/vehicles/${book.vehicles[1]}/due`)).body).not.toContain('strap')
  })
})

describe('one thing due', () => {
  test('is set once though the form is sent twice, changed, done with its next day set, and dropped', async () => {
    const fields = item({
      what: 'Retorque',
      on: '2026-11-25',
      odometer: '223500',
      every_months: '12',
      every_km: '10000',
      key: 'lugs',
      once: 'due-once',
    })
    expect((await book.post(`${V}/due-items`, fields)).headers.location).toBe(`${V}/due`)
    await book.post(`${V}/due-items`, fields)
    expect(due().get('lugs')).toMatchObject({ what: 'Retorque', on: '2026-11-25', odometer_km: 223500, every_months: 12, every_km: 10000 })
    const form = (await book.get(`${V}/due/lugs/change`)).body
    expect(form).toContain('value="223500"')
    await book.post(`${V}/due-items`, { ...fields, what: 'Retorque all', once: 'due-again' })
    const page = (await book.get(`${V}/due/lugs`)).body
    expect(textOf(page)).toContain('Comes round every year or 10 000 km')
    const refused = await book.post(`${V}/due-done`, { key: 'lugs', on: '2026-11-25' })
    expect(refused.statusCode).toBe(422)
    expect(faultsOf(refused.body)).toEqual([])
    expect(
      tagsOf(refused.body)
        .find((tag) => tag.attributes.get('id') === 'odometer')
        ?.attributes.get('aria-invalid'),
    ).toBe('true')
    expect((await book.post(`${V}/due-done`, { key: 'lugs', on: '2026-11-25', odometer: '223456', once: 'done-once' })).statusCode).toBe(
      303,
    )
    expect((await book.post(`${V}/due-done`, { key: 'lugs', on: '2026-11-25', odometer: '223456', once: 'done-once' })).statusCode).toBe(
      303,
    )
    expect(due().get('lugs')).toMatchObject({ what: 'Retorque all', on: '2027-11-25', odometer_km: 233456 })
    expect((await book.post(`${V}/due-drops`, { key: 'lugs' })).statusCode).toBe(303)
    expect(due().has('lugs')).toBe(false)
    expect((await book.post(`${V}/due-drops`, { key: 'lugs' })).statusCode).toBe(404)
  })

  test.each([
    ['no word', { what: '', on: '2027-01-01' }, 'what'],
    ['no when', {}, 'on'],
    ['a day that does not exist', { on: '2027-02-30' }, 'on'],
    ['a reading in words', { odometer: 'far' }, 'odometer'],
    ['half a month', { on: '2027-01-01', every_months: '0.5' }, 'every_months'],
    ['a component that is not there', { on: '2027-01-01', component: 'ghost' }, 'component'],
  ])('%s is refused by its field, and what was typed stands', async (_, fields, field) => {
    const before = due().size
    const reply = await book.post(`${V}/due-items`, item(fields as Record<string, string>))
    expect(reply.statusCode).toBe(422)
    expect(faultsOf(reply.body)).toEqual([])
    expect(insideOf(reply.body, `${field}-fault`).length).toBeGreaterThan(5)
    expect(due().size).toBe(before)
  })
})
