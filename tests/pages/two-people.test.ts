import { afterAll, beforeAll, describe, expect, test } from 'vitest'
import { entryOf } from '../../server/records/journal.ts'
import { partOf } from '../../server/records/parts.ts'
import { rowCounts } from '../records/book.ts'
import { type Book, openBook } from './book.ts'
import { faultsOf, insideOf, tagsOf, textOf } from './markup.ts'

let book: Book
let V = ''
beforeAll(async () => {
  book = await openBook()
  V = `/vehicles/${book.vehicles[0]}`
})
afterAll(() => book.close())

async function hidden(page: string, action: string): Promise<Record<string, string>> {
  const { body } = await book.get(page)
  const form = body.slice(body.indexOf(`action="${action}"`)).split('</form>')[0] ?? ''
  const fields = tagsOf(form).filter((tag) => tag.attributes.get('type') === 'hidden' && tag.attributes.get('name') !== '_token')
  return Object.fromEntries(fields.map((tag) => [tag.attributes.get('name') ?? '', tag.attributes.get('value') ?? '']))
}
const noted = async (text: string) =>
  (
    await book.post(`${V}/entries`, {
      verb: 'noted',
      component: 'r7',
      title: 'Relay looked at',
      text,
      odometer: '',
      on: '2026-11-20',
      do: 'save',
    })
  ).headers.location as string
const edit = { title: 'Relay looked at', on: '2026-11-20', 'keep-0': 'yes' }

describe('R16: two people edit one entry', () => {
  test('the second gets both versions and what was typed, and nothing is overwritten', async () => {
    const entry = await noted('As it was.')
    const [ours, theirs] = [
      await hidden(`${entry}/correction`, `${entry}/corrections`),
      await hidden(`${entry}/correction`, `${entry}/corrections`),
    ]
    const first = await book.post(`${entry}/corrections`, { ...theirs, ...edit, text: 'What they say.', cost: '12.50' })
    expect(first.statusCode).toBe(303)
    const rows = rowCounts(book.db)
    const second = await book.post(`${entry}/corrections`, { ...ours, ...edit, title: 'Our title', text: 'What we say.', 'keep-0': '' })
    expect(second.statusCode).toBe(409)
    expect(rowCounts(book.db)).toEqual(rows)
    expect(faultsOf(second.body)).toEqual([])
    const text = textOf(second.body)
    expect(text).toContain('This entry was changed while the form was open. Nothing of it is overwritten.')
    expect(text).toContain('In words As it was. What they say. What we say.')
    expect(text).toContain('Title Relay looked at Relay looked at Our title')
    expect(text).toContain('Cost not said 12.50 not said')
    // What was typed stands in the form, which now corrects the latest version.
    const latest = first.headers.location as string
    expect(second.body).toContain(`action="${latest}/corrections"`)
    expect(second.body).toContain('value="Our title"')
    expect(second.body).toContain('>What we say.</textarea>')
    expect(second.body).not.toMatch(/name="keep-0" value="yes" checked/)
    expect(entryOf(book.db, book.actor, latest.slice('/entries/'.length))).toMatchObject({ text: 'What they say.', withdrawn: false })
  })

  test('what was typed can then be saved knowingly, and all three versions stay', async () => {
    const entry = await noted('One.')
    const ours = await hidden(`${entry}/correction`, `${entry}/corrections`)
    const latest = (await book.post(`${entry}/corrections`, { ...edit, text: 'Two.' })).headers.location as string
    const clash = await book.post(`${entry}/corrections`, { ...ours, ...edit, text: 'Three.' })
    const form = clash.body.slice(clash.body.indexOf(`action="${latest}/corrections"`))
    const once = /name="once" value="([^"]+)"/.exec(form)?.[1] as string
    const saved = await book.post(`${latest}/corrections`, { ...edit, once, text: 'Three.' })
    expect(saved.statusCode).toBe(303)
    const versions = textOf((await book.get(saved.headers.location as string)).body)
    expect(versions).toContain('In words One. Two. changed')
    expect(versions).toContain('In words Two. Three. changed')
  })

  test('one that was withdrawn meanwhile is not brought back by an edit', async () => {
    const entry = await noted('Here.')
    const ours = await hidden(`${entry}/correction`, `${entry}/corrections`)
    await book.post(`${entry}/withdrawals`, {})
    const rows = rowCounts(book.db)
    const reply = await book.post(`${entry}/corrections`, { ...ours, ...edit, text: 'Edited.' })
    expect(reply.statusCode).toBe(409)
    expect(faultsOf(reply.body)).toEqual([])
    expect(textOf(reply.body)).toContain('This entry was withdrawn while the form was open.')
    expect(reply.body).toContain('>Edited.</textarea>')
    expect(rowCounts(book.db)).toEqual(rows)
  })

  test('one that was corrected meanwhile is not withdrawn by its old page', async () => {
    const entry = await noted('Here.')
    await book.post(`${entry}/corrections`, { ...edit, text: 'Corrected.' })
    const rows = rowCounts(book.db)
    expect((await book.post(`${entry}/withdrawals`, {})).statusCode).toBe(409)
    expect(rowCounts(book.db)).toEqual(rows)
  })
})

describe('R16: two people correct one part’s figures', () => {
  const make = async () =>
    (await book.post('/parts', { kind: 'fuse', name: 'Blade', rated_A: '15', 'grade-rated_A': 'marked' })).headers.location as string
  const figures = (rated_A: string) => ({ name: 'Blade', rated_A, 'grade-rated_A': 'datasheet' })

  test('the second gets both versions and what was typed, and nothing is overwritten', async () => {
    const part = await make()
    const ours = await hidden(part, `${part}/revisions`)
    expect((await book.post(`${part}/revisions`, { ...ours, ...figures('20') })).statusCode).toBe(303)
    const rows = rowCounts(book.db)
    const second = await book.post(`${part}/revisions`, { ...ours, ...figures('25') })
    expect(second.statusCode).toBe(409)
    expect(faultsOf(second.body)).toEqual([])
    expect(rowCounts(book.db)).toEqual(rows)
    expect(partOf(book.db, book.actor, part.slice('/parts/'.length))?.ratings.rated_A).toBe(20)
    const text = textOf(second.body)
    expect(text).toContain('Owner changed these figures while this form was open. Nothing of theirs is overwritten.')
    expect(text).toMatch(/Rated current 15 A, marked 20 A, datasheet 25 A, datasheet/)
    expect(second.body).toMatch(/name="rated_A"[^>]* value="25"/)
    // Saved again it stands on the version now in force.
    const basedOn = /name="basedOn" value="([^"]+)"/.exec(second.body.slice(second.body.indexOf('/revisions"')))?.[1] as string
    expect(basedOn).not.toBe(ours.basedOn)
    expect((await book.post(`${part}/revisions`, { basedOn, ...figures('25') })).statusCode).toBe(303)
    const now = partOf(book.db, book.actor, part.slice('/parts/'.length))
    expect(now?.ratings.rated_A).toBe(25)
    expect(now?.revisions.map((one) => one.ratings.rated_A)).toEqual([15, 20, 25])
  })
})

describe('an entry’s versions, undo and the trash, as they are seen', () => {
  test('both versions field by field, each with who and when; the journal marks it', async () => {
    const entry = await noted('First words.')
    const next = (await book.post(`${entry}/corrections`, { title: 'Relay cleaned', on: '2026-11-19', odometer: '300000', 'keep-0': '' }))
      .headers.location as string
    for (const page of [entry, next]) {
      const { body } = await book.get(page)
      expect(faultsOf(body)).toEqual([])
      const text = textOf(body.slice(body.indexOf('id="versions"')))
      expect(text).toContain('Title Relay looked at Relay cleaned changed')
      expect(text).toContain('When 20 November 2026 19 November 2026 changed')
      expect(text).toContain('Odometer not said 300 000 km added')
      expect(text).toContain('In words First words. not said left out')
      expect(text).toContain('– left out')
      expect(text.match(/25 November 2026, 12:00, Owner/g)).toHaveLength(2)
    }
    expect((await book.get(`${V}/journal`)).body).toContain(`<a href="${next}">Relay cleaned</a> <em>corrected</em>`)
  })

  test('after a save one press undoes it, another brings it back', async () => {
    const entry = await noted('Just now.')
    const undo = (body: string) => /<form class="undo" method="post" action="([^"]+)"/.exec(body)?.[1]
    for (const page of [entry, V, `${V}/journal`]) expect(undo((await book.get(page)).body), page).toBe(`${entry}/withdrawals`)
    expect((await book.post(`${entry}/withdrawals`, {})).headers.location).toBe(entry)
    expect(undo((await book.get(V)).body)).toBe(`${entry}/restorations`)
    const trash = (await book.get('/trash')).body
    expect(faultsOf(trash)).toEqual([])
    expect(trash).toContain(`action="${entry}/restorations"`)
    expect(textOf(trash)).toContain('Relay looked at Bramble, 20 November 2026 · withdrawn 25 November 2026, 12:00, Owner')
    await book.post(`${entry}/restorations`, {})
    expect((await book.get(entry)).body).not.toContain('This entry is withdrawn')
    expect((await book.get('/trash')).body).not.toContain(`action="${entry}/restorations"`)
    expect(undo((await book.get(V)).body)).toBe(`${entry}/withdrawals`)
  })

  test('a trash too long for one page is turned over, each list by itself', async () => {
    const gone: string[] = []
    for (let n = 0; n < 51; n++) {
      const entry = await noted(`Note ${n}.`)
      await book.post(`${entry}/withdrawals`, {})
      gone.push(entry)
    }
    const first = (await book.get('/trash?photos=3')).body
    expect(faultsOf(first)).toEqual([])
    expect(textOf(first)).toContain('withdrawn entries, page 1 of 2, latest first')
    expect(first.match(/restorations"/g)).toHaveLength(50)
    const next = /href="([^"]+)">Earlier withdrawn/.exec(first)?.[1]?.replace('&amp;', '&')
    expect(next).toBe('/trash?page=2&photos=3')
    const second = (await book.get(next as string)).body
    expect(faultsOf(second)).toEqual([])
    expect(second).toContain('Later withdrawn')
    expect(second).not.toContain('Earlier withdrawn')
    for (const entry of gone)
      expect(
        [first, second].filter((body) => body.includes(`"${entry}/restorations"`)),
        entry,
      ).toHaveLength(1)
  })

  test('undoing a correction brings the earlier version back, and again the correction', async () => {
    const entry = await noted('Before.')
    const next = (await book.post(`${entry}/corrections`, { ...edit, text: 'After.' })).headers.location as string
    const undo = async (page: string) =>
      /<form class="undo" method="post" action="([^"]+)"/.exec((await book.get(page)).body)?.[1] as string
    expect(await undo(next)).toBe(`${next}/earlier-versions`)
    const back = (await book.post(await undo(next), {})).headers.location as string
    const page = (await book.get(back)).body
    expect(textOf(page)).toContain('says the same as version 1')
    expect(insideOf(page, 'main')).toContain('<p class="as-typed">Before.</p>')
    const again = (await book.post(await undo(back), {})).headers.location as string
    expect(insideOf((await book.get(again)).body, 'main')).toContain('<p class="as-typed">After.</p>')
  })

  test('a chain that was just saved is undone by one press on the page it leads to', async () => {
    const chain = {
      ...{ from: 'block:20', rows: '2', 'type-0': 'conductor', 'size-0': '2.5', 'length-0': '1', 'type-1': 'load', 'name-1': 'Step lamp' },
      ...{ 'figure-1': '2', return: 'ground-bay:20', 'return-size': '2.5', 'return-length': '1', on: '2026-11-20', do: 'save' },
    }
    const path = (await book.post(`${V}/chains`, chain)).headers.location as string
    const { body } = await book.get(path)
    expect(faultsOf(body)).toEqual([])
    const action = /<form class="undo" method="post" action="([^"]+)"/.exec(body)?.[1] as string
    expect((await book.post(action, {})).statusCode).toBe(303)
    expect((await book.get(`${V}/components?contains=Step lamp`)).body).toContain('None found')
  })

  test('R20: who and when are said by the clock of the time zone that is set', async () => {
    const east = await openBook({ demo: false, timeZone: 'Pacific/Kiritimati' })
    const vehicle = (await east.post('/vehicles', { name: 'Fern', systemVoltage_V: '12' })).headers.location as string
    const fields = { verb: 'noted', text: 'Here.', on: '2026-11-26', do: 'save' }
    const entry = (await east.post(`${vehicle}/entries`, fields)).headers.location as string
    const next = (await east.post(`${entry}/corrections`, { title: 'There', on: '2026-11-26', 'keep-0': 'yes' })).headers.location as string
    // Noon by UTC is two in the night there, a day later.
    const text = textOf((await east.get(next)).body)
    expect(text.match(/26 November 2026, 02:00, Owner/g)).toHaveLength(3)
    await east.post(`${next}/withdrawals`, {})
    expect(textOf((await east.get('/trash')).body)).toContain('withdrawn 26 November 2026, 02:00, Owner')
    await east.close()
  })

  test('B2, B3: nothing is undone or restored by a look, nor where there is no such entry', async () => {
    const entry = await noted('Stays.')
    const rows = rowCounts(book.db)
    for (const noun of ['withdrawals', 'restorations', 'earlier-versions', 'corrections']) {
      expect((await book.get(`${entry}/${noun}`)).statusCode, noun).toBe(404)
      expect((await book.post(`/entries/00000000-0000-7000-8000-000000000000/${noun}`, {})).statusCode, noun).toBe(404)
    }
    expect((await book.post(`${entry}/earlier-versions`, {})).statusCode).toBe(422)
    expect((await book.post(`${entry}/withdrawals`, { _token: '' })).statusCode).toBe(403)
    expect(rowCounts(book.db)).toEqual(rows)
  })

  test('what a later entry rests on is not undone: that entry is named', async () => {
    const fitted = await book.post(`${V}/entries`, {
      ...{
        verb: 'fitted',
        name: 'Spare lamp',
        part: String(book.db.$client.prepare("SELECT part_id FROM part_revisions WHERE name LIKE 'Cab lamp%'").pluck().get()),
      },
      ...{ on: '2026-11-18', do: 'save' },
    })
    expect(fitted.statusCode).toBe(303)
    const later = await book.post(`${V}/entries`, {
      verb: 'removed',
      component: 'spare-lamp',
      fate: 'bin',
      title: 'Spare lamp out',
      on: '2026-11-19',
      do: 'save',
    })
    const rows = rowCounts(book.db)
    const refused = await book.post(`${fitted.headers.location}/withdrawals`, {})
    expect(refused.statusCode).toBe(422)
    expect(textOf(refused.body)).toContain('Spare lamp out')
    expect(refused.body).toContain(`href="${later.headers.location}"`)
    expect(rowCounts(book.db)).toEqual(rows)
  })

  test('the entry page leads to what its day changed', async () => {
    const entry = await noted('Linked.')
    expect((await book.get(entry)).body).toContain(`href="${V}/compare?from=2026-11-19&amp;to=2026-11-20"`)
  })
})
