import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { type Book, openBook } from './book.ts'
import { insideOf, textOf } from './markup.ts'

let book: Book
let V = ''

beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

async function partCalled(name: string): Promise<string> {
  const { body } = await book.get('/shelf?contains=relay')
  return new RegExp(`href="/parts/([^"]+)">${name}`).exec(body)?.[1] as string
}
const day = { on: '2026-11-20' }

describe('a piece by itself says what the same piece of the whole page says', () => {
  test.each<[string, string, string, Record<string, string>]>([
    [
      'a chain',
      'chains',
      'chain-previews',
      {
        from: 'block:20',
        rows: '2',
        'type-0': 'conductor',
        'size-0': '2.5',
        'length-0': '1',
        'type-1': 'load',
        'name-1': 'Lamp',
        'figure-1': '9',
        return: 'ground-bay:20',
        ...day,
      },
    ],
    [
      'a cut',
      'components/main-lead/inserts',
      'components/main-lead/insert-previews',
      { conductor: 'main-lead', near: '0.05', type: 'fuse', name: 'Fuse Q', figure: '80', ...day },
    ],
    [
      'a fuse box',
      'fuse-box',
      'fuse-box-previews',
      { box: 'block', count: '1', 'position-0': 'X1', 'rating-0': '10', 'reading-0': '3', ...day },
    ],
    ['a note', 'entries', 'entry-previews', { verb: 'noted', text: 'Looked at.', ...day }],
  ])('%s', async (_, whole, piece, fields) => {
    const page = await book.post(`${V}/${whole}`, { ...fields, do: 'try' })
    const part = await book.post(`${V}/${piece}`, { ...fields, do: 'try' }, { 'hx-request': 'true' })
    expect([page.statusCode, part.statusCode]).toEqual([200, 200])
    const text = textOf(insideOf(page.body, 'tried'))
    expect(text).toContain('Tried, not saved.')
    expect(textOf(part.body)).toBe(text)
    expect(part.body).not.toContain('<html')
  })

  test('what is refused: the same faults', async () => {
    const fields = { from: 'block:20', rows: '1', 'type-0': 'load', 'name-0': '', ...day, do: 'try' }
    const page = await book.post(`${V}/chains`, fields)
    const part = await book.post(`${V}/chain-previews`, fields, { 'hx-request': 'true' })
    expect([page.statusCode, part.statusCode]).toEqual([422, 422])
    expect(textOf(insideOf(part.body, 'faults'))).toBe(textOf(insideOf(page.body, 'faults')))
  })

  test('a piece asked for without its token says so as a piece', async () => {
    const part = await book.post(`${V}/entry-previews`, { _token: '', verb: 'noted' }, { 'hx-request': 'true' })
    expect(part.statusCode).toBe(403)
    expect(part.body).not.toContain('<html')
  })
})

test('a swap whose new part lacks a terminal in use asks where that wire went, and takes the answer', async () => {
  const made = await book.post('/parts', { kind: 'switch', name: 'Toggle', rated_A: '30', 'grade-rated_A': 'marked' })
  const part = (made.headers.location as string).slice('/parts/'.length)
  const swap = { verb: 'swapped', component: 'r7', part, fate: 'shelf', ...day }
  const asked = await book.post(`${V}/entries`, { ...swap, do: 'save' })
  expect(asked.statusCode).toBe(422)
  for (const terminal of ['30', '85', '86', '87']) expect(asked.body).toContain(`id="terminal-${terminal}"`)
  const piece = await book.post(`${V}/entry-previews`, swap, { 'hx-request': 'true' })
  expect(piece.body).toContain('id="terminal-30"')
  const twice = await book.post(`${V}/entries`, {
    ...swap,
    'terminal-30': 'in',
    'terminal-87': 'in',
    'terminal-85': 'out2',
    'terminal-86': 'out3',
    do: 'try',
  })
  expect(twice.body).toContain('Another wire already went to in')
})

test('a relay with fewer terminals is no question when those in use are there', async () => {
  const part = await partCalled('20 A make relay')
  expect(part).toBeDefined()
  expect((await book.post(`${V}/entries`, { verb: 'swapped', component: 'r3', part, ...day, do: 'try' })).statusCode).toBe(200)
})

test('an entry is edited, withdrawn and brought back; stock is counted; what was due is done', async () => {
  const saved = (await book.post(`${V}/entries`, { verb: 'noted', text: 'First words.', ...day, do: 'save' })).headers.location as string
  expect((await book.get(saved)).body).toContain('Nothing gave way.')
  const edited = await book.post(`${saved}/corrections`, { title: 'Second words', text: 'Better.', on: '2026-11-19', 'keep-0': 'yes' })
  expect(edited.statusCode).toBe(303)
  expect((await book.get(saved)).body).toContain('earlier version')
  const now = edited.headers.location as string
  await book.post(`${now}/withdrawals`, {})
  expect((await book.get(now)).body).toContain('Bring it back')
  await book.post(`${now}/restorations`, {})
  expect((await book.get(now)).body).not.toContain('Bring it back')
  const part = `/parts/${await partCalled('20 A make relay')}`
  expect((await book.post(`${part}/counts`, { count: '7', place: 'Drawer 3' })).statusCode).toBe(303)
  expect(textOf((await book.get(part)).body)).toContain('On the shelf 7 Where Drawer 3')
  expect((await book.post(`${part}/counts`, { count: '1.5' })).statusCode).toBe(422)
  expect((await book.get(V)).body).toContain('/due/grounds-2027')
  await book.post(`${V}/due-done`, { key: 'grounds-2027', on: '2026-11-25', text: 'All tight.' })
  expect((await book.get(V)).body).not.toContain('/due/grounds-2027')
})
