/** Past 200 lines: the log form on a phone: taps, photos on their way, what is kept when the connection or the session goes. */

import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import type { Browser, BrowserContext, Page, Request, Route } from 'playwright-core'
import sharp from 'sharp'
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test, vi } from 'vitest'
import { fixedClock } from '../../server/records/clock.ts'
import { partsOf } from '../../server/records/parts.ts'
import { countStock } from '../../server/records/stock.ts'
import { launch, PASSWORD, serve } from './browser.ts'

let browser: Browser
let book: Awaited<ReturnType<typeof serve>>
let context: BrowserContext
let page: Page

beforeAll(async () => {
  browser = await launch()
})
afterAll(async () => {
  await browser?.close()
})
beforeEach(async () => {
  book = await serve()
  await begin({})
})
afterEach(async () => {
  await context.close()
  await book.close()
})

async function begin(more: { readonly javaScriptEnabled?: boolean; readonly bypassCSP?: boolean }) {
  await context?.close()
  context = await browser.newContext({ viewport: { width: 360, height: 740 }, hasTouch: true, isMobile: true, ...more })
  page = await context.newPage()
  await page.goto(book.address)
  await signIn()
}
async function signIn(on = page) {
  await on.fill('#name', 'Owner')
  await on.fill('#password', PASSWORD)
  await on.click('main button[type=submit]')
}
const SAVED = /\/entries\/[0-9a-f-]{36}$/
const form = () => `${book.address}/vehicles/${book.vehicleIds[0]}/entries/new`
const PICTURE = await sharp({ create: { width: 40, height: 30, channels: 3, background: '#864' } })
  .jpeg()
  .toBuffer()
/** Each of its own bytes: the same picture sent twice is one photo. */
const jpeg = (name: string) => ({ name, mimeType: 'image/jpeg', buffer: Buffer.concat([PICTURE, Buffer.from(name)]) })
const entryCount = () => Number(book.db.$client.prepare('SELECT count(*) FROM entries').pluck().get())
const photosOf = (entry: string) =>
  Number(book.db.$client.prepare('SELECT count(*) FROM photos WHERE entry_place_id = ?').pluck().get(entry.split('/').at(-1)))

/** Stands in for the address that takes photos; `answer` says how each request, counted from 0, goes. */
async function takePhotos(answer: (n: number, route: Route) => Promise<unknown> = () => Promise.resolve(null)) {
  const seen: Request[] = []
  await page.route('**/vehicles/*/photos', async (route) => {
    seen.push(route.request())
    if ((await answer(seen.length - 1, route)) !== null) return
    await route.continue()
  })
  return seen
}
/** Fields of a multipart body in their order, with their values. */
function fieldsOf(request: Request): readonly (readonly [string, string])[] {
  const body = request.postDataBuffer()?.toString('latin1') ?? ''
  return [...body.matchAll(/name="([^"]+)"(?:; filename="[^"]*")?\r\n(?:Content-Type:[^\r]*\r\n)?\r\n([^\r]*)/g)].map((one) => [
    one[1] as string,
    one[2] as string,
  ])
}

test('a swap with a photo from the first page takes at most 8 taps and 12 keystrokes, for a part that is not the first suggestion', async () => {
  await takePhotos()
  // Those in stock come first, so that the wanted one does not.
  const mini = partsOf(book.db, book.actor, { contains: '40 A make relay, mini' })[0]?.id as string
  countStock(book.db, fixedClock('2026-11-25T12:00:00Z'), book.actor, mini, 2, 'box 3')
  await page.goto(book.address)
  let taps = 0
  let keys = 0
  const tap = async (selector: string) => {
    taps++
    await page.tap(selector)
  }
  const type = async (text: string) => {
    keys += text.length
    await page.keyboard.type(text)
  }
  /** Opens the list, then touches one of it. */
  const choose = async (selector: string, label: string) => {
    taps += 2
    await page.selectOption(selector, { label })
  }
  await tap('a:has-text("Log a job in Bramble")')
  await choose('#component', 'Relay R3, compressor')
  await tap('#q')
  const narrowed = page.waitForResponse((reply) => reply.url().includes('q=make'))
  await type('make')
  await narrowed
  const wanted = '#part-choices label:has-text("20 A make relay, micro")'
  await page.waitForSelector(wanted)
  const offered = await page.locator('#part-choices label').allInnerTexts()
  expect(offered.findIndex((one) => one.includes('20 A make relay, micro'))).toBeGreaterThan(0)
  await tap(wanted)
  const chooser = page.waitForEvent('filechooser')
  await tap('label[for=photos-pick]')
  taps++
  await (await chooser).setFiles(jpeg('relay.jpg'))
  await tap('button[value=save]')
  await page.waitForURL(SAVED)
  expect(await page.textContent('main')).toMatch(/22 A of its 20 A rating/)
  expect(photosOf(page.url())).toBe(1)
  console.log(`a swap with a photo: ${taps} taps, ${keys} keystrokes`)
  expect(taps).toBeLessThanOrEqual(8)
  expect(keys).toBeLessThanOrEqual(12)
})

describe('photos', () => {
  const item = (name: string) => `#photos-sent li:has-text("${name}")`

  test('each goes out at once by itself, its token first; the words for a screen reader count them; Save puts them to the entry', async () => {
    const seen = await takePhotos()
    await page.goto(`${form()}?component=r3`)
    await page.setInputFiles('#photos-pick', [jpeg('one.jpg'), jpeg('two.jpg')])
    await page.waitForSelector(`${item('two.jpg')}:has-text("sent") >> nth=0`)
    await page.waitForSelector('#photos-says:text-is("2 photos sent.")')
    const sent = seen.map(fieldsOf)
    expect(sent.map((fields) => fields.map(([name]) => name))).toEqual([
      ['_token', 'once', 'component', 'photo'],
      ['_token', 'once', 'component', 'photo'],
    ])
    const [one, two] = sent.map((fields) => Object.fromEntries(fields))
    expect(one?._token).toBe(await page.inputValue('form.log input[name=_token]'))
    expect(one?.once).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-4[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/)
    expect(one?.once).not.toBe(two?.once)
    expect(one?.component).toBe('r3')
    expect(await seen[0]?.headerValue('accept')).toBe('application/json')
    await page.selectOption('#verb', 'noted')
    await page.fill('#text', 'Two pictures.')
    await page.click('button[value=save]')
    await page.waitForURL(SAVED)
    expect(photosOf(page.url())).toBe(2)
  })

  test('one that fails says why and can be tried again under the same key; others are not touched by it', async () => {
    const answers = [
      (route: Route) => route.abort('connectionfailed'),
      (route: Route) =>
        route.fulfill({ status: 413, contentType: 'text/html', body: '<html><h1>413 Request Entity Too Large</h1></html>' }),
      (route: Route) => route.fulfill({ status: 502, contentType: 'text/html', body: '<html><h1>Bad Gateway</h1></html>' }),
      (route: Route) => route.fulfill({ status: 422, json: { says: 'This is no picture.' } }),
      (route: Route) => route.fulfill({ status: 401, json: { says: 'signed out' } }),
    ]
    const seen = await takePhotos(async (n, route) => (answers[n] ? answers[n](route) : null))
    await page.goto(form())
    await page.setInputFiles('#photos-pick', jpeg('one.jpg'))
    const says = [
      'no connection',
      'in front refused it: too large',
      'in front refused it, as too large or',
      'This is no picture.',
      'you are signed out',
    ]
    for (const words of says) {
      await page.waitForSelector(`${item('one.jpg')}.failed:has-text("${words}")`)
      expect(await page.textContent('#photos-says')).toBe('One photo did not arrive.')
      await page.click(`${item('one.jpg')} button:has-text("Retry")`)
    }
    await page.waitForSelector(`${item('one.jpg')}:not(.failed) input[name=photos]`, { state: 'attached' })
    const keys = seen.map((request) => Object.fromEntries(fieldsOf(request)).once)
    expect(keys.length).toBe(6)
    expect(new Set(keys).size).toBe(1)
    expect(await page.isVisible(`${item('one.jpg')} button:has-text("Retry")`)).toBe(false)
  })

  test('progress is shown; one on its way can be cancelled, one that arrived left out', async () => {
    await takePhotos(async (n) => (n === 0 ? new Promise(() => {}) : null))
    await page.goto(form())
    await page.setInputFiles('#photos-pick', jpeg('slow.jpg'))
    await page.waitForSelector(`${item('slow.jpg')} progress`)
    expect(await page.textContent('#photos-says')).toBe('One photo on the way.')
    await page.click(`${item('slow.jpg')} button:has-text("Cancel")`)
    expect(await page.locator('#photos-sent li').count()).toBe(0)
    expect(await page.evaluate('document.activeElement.id')).toBe('photos-pick')
    await page.setInputFiles('#photos-pick', jpeg('quick.jpg'))
    await page.click(`${item('quick.jpg')} button:has-text("Leave out")`)
    expect(await page.textContent('#photos-says')).toContain('Left out of this entry')
    expect(await page.locator('input[name=photos]').count()).toBe(0)
  })

  test('Save waits for what is on its way; what did not arrive holds it up once', async () => {
    let letGo = () => {}
    const held = new Promise<void>((go) => {
      letGo = go
    })
    await takePhotos(async (n, route) => {
      if (n === 0) await held
      return n === 1 ? route.abort() : null
    })
    await page.goto(form())
    await page.selectOption('#verb', 'noted')
    await page.fill('#text', 'Waits.')
    await page.setInputFiles('#photos-pick', jpeg('slow.jpg'))
    const before = entryCount()
    await page.click('button[value=save]')
    await page.waitForSelector('#photos-says:has-text("Saved as soon as it has arrived: one photo on the way.")')
    expect(entryCount()).toBe(before)
    letGo()
    await page.waitForURL(SAVED)
    expect(photosOf(page.url())).toBe(1)
    await page.goto(form())
    await page.selectOption('#verb', 'noted')
    await page.fill('#text', 'Goes without.')
    await page.setInputFiles('#photos-pick', jpeg('lost.jpg'))
    await page.waitForSelector(`${item('lost.jpg')}.failed`)
    await page.click('button[value=save]')
    await page.waitForSelector('#photos-says:has-text("press Save again to save without")')
    expect(entryCount()).toBe(before + 1)
    await page.click('button[value=save]')
    await page.waitForURL(SAVED)
    expect(photosOf(page.url())).toBe(0)
    expect(entryCount()).toBe(before + 2)
  })
})

describe('what was typed', () => {
  const note = '#draft-note'
  const draftSays = (words: string) =>
    vi.waitUntil(() => page.evaluate(`Object.values(localStorage).some((one) => one.includes('${words}'))`), { timeout: 5000 })
  const drafts = () => page.evaluate("Object.keys(localStorage).filter((one) => one.startsWith('loombook draft ')).length")
  async function typeIt() {
    await page.selectOption('#component', { label: 'Relay R3, compressor' })
    const narrowed = page.waitForResponse((reply) => reply.url().includes('q=micro'))
    await page.fill('#q', 'micro')
    await narrowed
    await page.click('#part-choices label:has-text("20 A make relay, micro")')
    await page.fill('#text', 'Half a <b>sentence</b>')
    await page.fill('#cost', '12,50')
  }

  test('is back when the page is opened again, parts and all, and saves as one would expect; then it is gone', async () => {
    await page.goto(form())
    await typeIt()
    await draftSays('12,50')
    const kept = (await page.evaluate('Object.values(localStorage).join()')) as string
    expect(kept).not.toContain(await page.inputValue('form.log input[name=_token]'))
    await page.goto(book.address)
    const before = entryCount()
    await page.goto(form())
    await page.waitForSelector(`${note}:has-text("is back; nothing of it is saved yet.")`)
    expect(await page.textContent(note)).toMatch(/What you typed on \d+ \w+ is back/)
    expect(await page.inputValue('#text')).toBe('Half a <b>sentence</b>')
    expect(await page.inputValue('#cost')).toBe('12,50')
    expect(await page.inputValue('#component')).toBe('r3')
    expect(await page.textContent('#part-choices label:has(:checked)')).toContain('20 A make relay, micro')
    expect(await page.textContent('#part-count')).toBe('One part.')
    expect(entryCount()).toBe(before)
    // The form that came back still narrows as one types.
    const narrowed = page.waitForResponse((reply) => reply.url().includes('q=70'))
    await page.fill('#q', '70')
    await narrowed
    await page.click('#part-choices label:has-text("70 A make relay")')
    expect(await page.textContent('#part-count')).toBe(`${await page.locator('#part-choices label').count()} parts.`)
    await page.click('button[value=save]')
    await page.waitForURL(SAVED)
    expect(entryCount()).toBe(before + 1)
    expect(await drafts()).toBe(0)
    await page.goto(form())
    await page.waitForTimeout(500)
    expect(await page.locator(note).count()).toBe(0)
    expect(await page.inputValue('#text')).toBe('')
  })

  test('goes when one starts afresh, and is not shown in the form of another vehicle', async () => {
    await page.goto(form())
    await page.fill('#text', 'Wrong vehicle')
    await draftSays('Wrong vehicle')
    await page.goto(`${book.address}/vehicles/${book.vehicleIds[1]}/entries/new`)
    await page.waitForTimeout(500)
    expect(await page.locator(note).count()).toBe(0)
    await page.goto(form())
    await page.click(`${note} button:has-text("Start afresh")`)
    await page.waitForSelector(note, { state: 'detached' })
    expect(await page.inputValue('#text')).toBe('')
    expect(await drafts()).toBe(0)
  })

  test('stays where it is when there is no connection, said here and not by the browser, and can be sent once there is one', async () => {
    await page.goto(form())
    await typeIt()
    const before = entryCount()
    await context.setOffline(true)
    await page.click('button[value=save]')
    await page.waitForSelector('#draft-says:has-text("Not sent: no connection.")')
    expect(await page.inputValue('#text')).toBe('Half a <b>sentence</b>')
    expect(page.url()).toBe(form())
    expect(entryCount()).toBe(before)
    await context.setOffline(false)
    await page.click('button[value=save]')
    await page.waitForURL(SAVED)
    expect(entryCount()).toBe(before + 1)
    expect(await drafts()).toBe(0)
  })

  test('outlives a session that ends by itself, and goes when somebody signs out, in every tab', async () => {
    await page.goto(form())
    await page.fill('#text', 'Half a sentence')
    await draftSays('Half a sentence')
    book.db.$client.prepare('DELETE FROM sessions').run()
    await page.goto(book.address)
    await page.waitForSelector('#password')
    expect(await drafts()).toBe(1)
    await signIn()
    await page.goto(form())
    await page.waitForSelector(`${note}:has-text("is back; nothing of it is saved yet.")`)
    expect(await page.inputValue('#text')).toBe('Half a sentence')
    await page.fill('#text', 'Half a sentence more')
    await draftSays('Half a sentence more')
    const other = await context.newPage()
    await other.goto(`${book.address}/vehicles/${book.vehicleIds[1]}/entries/new`)
    await other.fill('#text', 'Of another vehicle')
    await draftSays('Of another vehicle')
    await other.click('text=Sign out')
    await other.waitForSelector('#password')
    expect(await drafts()).toBe(0)
    // The tab that was left open keeps nothing either when it is put away.
    await page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    expect(await drafts()).toBe(0)
  })

  test('goes at signing out though there is no connection', async () => {
    await page.goto(form())
    await page.fill('#text', 'Half a sentence')
    await draftSays('Half a sentence')
    await context.setOffline(true)
    await page.click('text=Sign out').catch(() => {})
    await context.setOffline(false)
    await page.goto(`${book.address}/healthz`)
    expect(await drafts()).toBe(0)
  })

  test.each([true, false])('B34: outlives signing out on another tab (scripts %s)', async (javaScriptEnabled) => {
    await begin({ javaScriptEnabled })
    await page.goto(`${form()}?component=r3&verb=serviced`)
    await page.fill('#text', 'Half a <b>sentence</b>')
    const other = await context.newPage()
    await other.goto(book.address)
    await other.click('text=Sign out')
    const before = entryCount()
    await page.click('button[value=save]')
    await page.waitForSelector('#password')
    expect(await page.textContent('main')).toContain('What you typed is kept here')
    await signIn()
    await page.waitForSelector('form.log')
    expect(await page.inputValue('#text')).toBe('Half a <b>sentence</b>')
    expect(await page.inputValue('#component')).toBe('r3')
    expect(entryCount()).toBe(before)
    await page.click('button[value=save]')
    await page.waitForURL(SAVED)
    expect(entryCount()).toBe(before + 1)
  })
})

test('without scripts: narrowed by a button, a part named on the form, photos for later, refused once, saved', async () => {
  await begin({ javaScriptEnabled: false })
  await page.goto(`${form()}?component=r3`)
  expect(await page.isVisible('text=Save first; photos are added on the entry’s page.')).toBe(true)
  expect(await page.isVisible('label[for=photos-pick]')).toBe(false)
  await page.fill('#text', 'Kept over all of it.')
  await page.fill('#q', 'micro')
  await page.click('button[value=narrow]')
  expect(await page.locator('#part-choices label').count()).toBe(1)
  expect(await page.isVisible('#new-name')).toBe(false)
  await page.click('label[for=part-new]')
  await page.fill('#new-name', 'Relay of the market')
  await page.fill('#new-figure', 'plenty')
  await page.click('button[value=save]')
  expect(await page.textContent('#faults')).toContain('“plenty” is not a plain number')
  expect(await page.inputValue('#text')).toBe('Kept over all of it.')
  await page.fill('#new-figure', '20')
  await page.click('button[value=try]')
  expect(await page.textContent('#tried')).toMatch(/22 A of its 20 A/)
  await page.click('button[value=save]')
  expect(page.url()).toMatch(/\/entries\/[0-9a-f-]{36}$/)
  expect(await page.textContent('main')).toContain('Relay of the market')
})

test('fields that the chosen work does not ask for are hidden', async () => {
  await page.goto(form())
  const shown: Record<string, readonly string[]> = {
    swapped: ['component', 'q', 'fate'],
    fitted: ['name', 'q'],
    removed: ['component', 'fate'],
    rerouted: ['component', 'length'],
    measured: ['component', 'quantity', 'value'],
    serviced: ['component'],
    noted: ['component'],
  }
  for (const [verb, fields] of Object.entries(shown)) {
    await page.selectOption('#verb', verb)
    const visible: string[] = []
    for (const id of ['component', 'name', 'q', 'fate', 'length', 'quantity', 'value']) if (await page.isVisible(`#${id}`)) visible.push(id)
    expect(visible, verb).toEqual(['component', 'name', 'q', 'fate', 'length', 'quantity', 'value'].filter((id) => fields.includes(id)))
  }
})

test('everything to touch is at least 44 px high, one column wide, and what has the focus is never behind the bar with Save', async () => {
  await page.goto(`${form()}?component=r3`)
  await page.click('#part-choices label >> nth=0')
  await page.click('button[value=try]')
  await page.waitForSelector('#tried .foot')
  const found = (await page.evaluate(`(() => {
    const bar = document.querySelector('.bar')
    const seen = [...document.querySelectorAll('form.log :is(input:not([type=hidden]), select, textarea, button, summary)')].filter((one) => one.checkVisibility())
    const target = (one) => ['radio', 'checkbox'].includes(one.type) || one.type === 'file' ? document.querySelector('label[for="' + one.id + '"]') : one
    const low = seen.filter((one) => target(one).getBoundingClientRect().height < 43.9).map((one) => one.id || one.textContent)
    const behind = seen.filter((one) => {
      window.scrollTo(0, 0)
      one.focus()
      const box = target(one).getBoundingClientRect()
      return !bar.contains(one) && box.bottom > bar.getBoundingClientRect().top + 0.5
    }).map((one) => one.id)
    const save = document.querySelector('button[value=save]').getBoundingClientRect()
    return { count: seen.length, low, behind, save: save.bottom <= innerHeight && save.top >= 0, wide: document.documentElement.scrollWidth }
  })()`)) as { count: number; low: string[]; behind: string[]; save: boolean; wide: number }
  expect(found.count).toBeGreaterThan(15)
  expect(found).toMatchObject({ low: [], behind: [], save: true, wide: 360 })
})

test('no serious or critical fault of access while photos come and go, a part is being named and the verdict stands', async () => {
  // The tester of access is a script that the page's own policy would not let in.
  await begin({ bypassCSP: true })
  await takePhotos(async (n, route) => (n === 0 ? route.abort() : n === 1 ? new Promise(() => {}) : null))
  await page.goto(`${form()}?component=r3`)
  for (const name of ['lost.jpg', 'slow.jpg', 'there.jpg']) {
    await page.setInputFiles('#photos-pick', jpeg(name))
    await page.waitForTimeout(300)
  }
  await page.click('label[for=part-new]')
  await page.fill('#new-name', 'Weak one')
  await page.fill('#new-figure', '10')
  await page.click('button[value=try]')
  await page.waitForSelector('#tried .foot')
  expect(await page.textContent('#photos-says')).toBe('One photo on the way. One photo sent. One photo did not arrive.')
  await page.evaluate(readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8'))
  const faults = await page.evaluate(
    `axe.run(document, { resultTypes: ['violations'] }).then((r) => r.violations.filter((v) => ['serious', 'critical'].includes(v.impact)).map((v) => v.id + ': ' + v.nodes.map((n) => n.html.slice(0, 140)).join(' | ')))`,
  )
  expect(faults).toEqual([])
})
