/** Photos and papers over http: what is taken, what is refused, what is served. Pictures are made here, byte by byte where they are bad. */
import { existsSync, mkdirSync, readdirSync, readFileSync, rmSync, symlinkSync, watch, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { deflateSync } from 'node:zlib'
import sharp from 'sharp'
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest'
import { createVehicle } from '../../server/records/vehicles.ts'
import { household } from '../records/book.ts'
import { type Book, openBook } from './book.ts'

let book: Book
let vehicle: string
let jpeg: Buffer
beforeAll(async () => {
  // The product reads files only; the tests look into what it answers.
  sharp.unblock({ operation: ['Jpeg', 'Png', 'Webp', 'Heif'].map((kind) => `VipsForeignLoad${kind}Buffer`) })
  book = await openBook()
  vehicle = book.vehicles[0] as string
  jpeg = await picture().jpeg().toBuffer()
})
afterAll(() => book.close())
beforeEach(() => {
  book.db.$client.prepare('DELETE FROM photo_marks').run()
  book.db.$client.prepare('DELETE FROM photos').run()
  rmSync(join(book.data, 'photos'), { recursive: true, force: true })
  rmSync(join(book.data, 'thumbnails'), { recursive: true, force: true })
})

const picture = (width = 300, height = 200) => sharp({ create: { width, height, channels: 3, background: '#8a5a00' } })
const rows = () => Number(book.db.$client.prepare('SELECT count(*) FROM photos').pluck().get())
const files = (folder: string): string[] =>
  existsSync(join(book.data, folder))
    ? readdirSync(join(book.data, folder), { recursive: true, withFileTypes: true }).flatMap((one) =>
        one.isFile() ? [join(one.parentPath, one.name)] : [],
      )
    : []
const nothingKept = () => {
  expect([rows(), files('photos'), files('tmp')]).toEqual([0, [], []])
}
const send = (
  bytes: Buffer,
  more: { name?: string; type?: string; fields?: Record<string, string>; headers?: Record<string, string> } = {},
) =>
  book.send(`/vehicles/${vehicle}/photos`, {
    files: [{ name: more.name ?? 'a.jpg', bytes, type: more.type ?? 'image/jpeg' }],
    ...(more.fields ? { fields: more.fields } : {}),
    headers: { accept: 'application/json', ...more.headers },
  })
const idOf = (reply: { json(): { photos: { id: string }[] } }) => reply.json().photos[0]?.id as string

describe('what is taken', () => {
  test.each([
    ['JPEG', async () => picture().jpeg().toBuffer(), 'image/jpeg'],
    ['PNG', async () => picture().png().toBuffer(), 'image/png'],
    ['WebP', async () => picture().webp().toBuffer(), 'image/webp'],
    ['AVIF', async () => picture().avif().toBuffer(), 'image/avif'],
  ])('%s: kept byte for byte, shown small, served as what it is whatever it was called', async (_, make, type) => {
    const bytes = await make()
    const sent = await send(bytes, { name: 'wrong.pdf', type: 'text/html' })
    expect(sent.statusCode).toBe(201)
    const id = idOf(sent)
    const original = await book.get(`/photos/${id}/original`)
    expect(original.rawPayload.equals(bytes)).toBe(true)
    expect(original.headers['content-type']).toBe(type)
    expect(original.headers['x-content-type-options']).toBe('nosniff')
    expect(original.headers['content-security-policy']).toBe("default-src 'none'; sandbox")
    const small = await sharp((await book.get(`/photos/${id}/thumbnail`)).rawPayload).metadata()
    expect([small.format, small.width, small.height]).toEqual(['webp', 300, 200])
    expect((await book.get(`/photos/${id}`)).statusCode).toBe(200)
  })
  test('HEIC is kept as it came, and said not to be previewed', async () => {
    const bytes = Buffer.concat([
      Buffer.from([0, 0, 0, 24]),
      Buffer.from('ftypheic'),
      Buffer.alloc(4),
      Buffer.from('mif1heic'),
      Buffer.alloc(200, 7),
    ])
    const id = idOf(await send(bytes, { name: 'IMG.HEIC' }))
    expect((await book.get(`/photos/${id}`)).body).toContain('cannot be previewed here')
    expect((await book.get(`/photos/${id}/thumbnail`)).statusCode).toBe(404)
    const original = await book.get(`/photos/${id}/original`)
    expect([original.headers['content-type'], original.rawPayload.equals(bytes)]).toEqual(['image/heic', true])
    expect(original.headers['content-disposition']).toMatch(/^attachment/)
  })
  test('a PDF of a part: attached, listed there, opened as a file and not in the page', async () => {
    const part = /href="(\/parts\/[0-9a-f-]{36})"/.exec((await book.get('/shelf')).body)?.[1] as string
    const bytes = Buffer.from(`%PDF-1.4\n${'x'.repeat(200)}\n%%EOF`)
    const sent = await book.send(`${part}/photos`, { files: [{ name: 'sheet.pdf', bytes }], fields: { back: part } })
    expect([sent.statusCode, sent.headers.location]).toEqual([303, part])
    const id = /href="\/photos\/([0-9a-f-]{36})"/.exec((await book.get(part)).body)?.[1]
    expect((await book.get(`/photos/${id}/original`)).headers['content-disposition']).toMatch(/^attachment; filename="sheet.pdf"/)
  })
  test('several at once to an entry, found on its page; a corrected entry keeps them', async () => {
    const entry = /href="(\/entries\/[0-9a-f-]{36})"/.exec((await book.get(`/vehicles/${vehicle}/journal`)).body)?.[1] as string
    const other = await picture(100, 50).png().toBuffer()
    await book.send(`${entry}/photos`, {
      files: [
        { name: 'a.jpg', bytes: jpeg },
        { name: 'b.png', bytes: other },
      ],
    })
    expect([...(await book.get(entry)).body.matchAll(/\/thumbnail"/g)]).toHaveLength(2)
    // As the form offers it, every field and every change kept.
    const form = (await book.get(`${entry}/correction`)).body
    const typed = [...form.matchAll(/<input (?:[^>]* )?name="([^"]+)"[^>]* value="([^"]*)"/g)].map(([, name, value]) => [name, value])
    const corrected = await book.post(`${entry}/corrections`, { ...Object.fromEntries(typed), title: 'Other words' })
    expect(corrected.statusCode).toBe(303)
    expect(corrected.headers.location).not.toBe(entry)
    expect([...(await book.get(corrected.headers.location as string)).body.matchAll(/\/thumbnail"/g)]).toHaveLength(2)
  })
  test('a photo on its side is turned upright, once', async () => {
    const lying = await picture(400, 100).withMetadata({ orientation: 6 }).jpeg().toBuffer()
    const id = idOf(await send(lying))
    expect(book.db.$client.prepare('SELECT width_px, height_px FROM photos').raw().get()).toEqual([100, 400])
    const small = await sharp((await book.get(`/photos/${id}/picture`)).rawPayload).metadata()
    expect([small.width, small.height, small.orientation]).toEqual([100, 400, undefined])
  })
})

describe('what a picture tells beside the picture (B11)', () => {
  test('place, owner, device, embedded thumbnail and what hangs on the end are in the original, and in nothing that is made from it', async () => {
    const marks = ['GPS-SENTINEL', 'OWNER-SENTINEL', 'XMP-SENTINEL', 'TAIL-SENTINEL', 'IPTC-SENTINEL']
    const tagged = await picture()
      .withExif({
        IFD0: { Artist: 'OWNER-SENTINEL', Copyright: 'OWNER-SENTINEL' },
        IFD3: { GPSLatitudeRef: 'N', GPSMapDatum: 'GPS-SENTINEL' },
      })
      .jpeg()
      .toBuffer()
    const segment = (marker: number, text: string) => {
      const body = Buffer.from(text)
      const head = Buffer.from([0xff, marker, 0, 0])
      head.writeUInt16BE(body.length + 2, 2)
      return Buffer.concat([head, body])
    }
    const dirty = Buffer.concat([
      tagged.subarray(0, 2),
      segment(0xe1, 'http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>XMP-SENTINEL</x:xmpmeta>'),
      segment(0xed, 'Photoshop 3.0\x008BIM\x04\x04\0\0\0\0\0\x12IPTC-SENTINEL'),
      tagged.subarray(2),
      Buffer.from('PK\x03\x04TAIL-SENTINEL'),
    ])
    const id = idOf(await send(dirty, { name: 'PLATE-SENTINEL.jpg' }))
    const original = (await book.get(`/photos/${id}/original`)).rawPayload.toString('latin1')
    for (const mark of marks) expect(original, mark).toContain(mark)
    for (const size of ['thumbnail', 'picture']) {
      const reply = await book.get(`/photos/${id}/${size}`)
      const text = reply.rawPayload.toString('latin1')
      for (const mark of [...marks, 'Exif', 'xmp', 'ICCP', 'PLATE']) expect(text, `${size} ${mark}`).not.toContain(mark)
      expect(JSON.stringify(reply.headers)).not.toContain('PLATE')
      const { exif, xmp, icc, iptc, orientation } = await sharp(reply.rawPayload).metadata()
      expect([exif, xmp, icc, iptc, orientation]).toEqual([undefined, undefined, undefined, undefined, undefined])
    }
  })
})

describe('what is refused by what it holds, not by what it is called', () => {
  const svg = '<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script><foreignObject/><image href="http://evil.example/"/></svg>'
  test.each([
    ['B12: HTML in a .jpg', Buffer.from(`<html><script>alert(1)</script>${' '.repeat(100)}`), 'a.jpg', 415],
    ['B12: GIF89a with a script', Buffer.from(`GIF89a/*${' '.repeat(80)}*/=alert(1)`), 'a.gif', 415],
    ['B12: PHP', Buffer.from(`<?php system($_GET[1]); ?>${' '.repeat(80)}`), 'a.php%00.jpg', 415],
    ['B12: ZIP', Buffer.from(`PK\x03\x04${' '.repeat(80)}`), 'a.jpg.zip', 415],
    [
      'B12: a head of JPEG and then HTML',
      Buffer.concat([Buffer.from([0xff, 0xd8, 0xff, 0xe0]), Buffer.from(`<script>${' '.repeat(90)}`)]),
      'a.jpg',
      422,
    ],
    ['B13: SVG', Buffer.from(svg), 'a.jpg.svg', 415],
    [
      'B13: SVG with an XML head',
      Buffer.from(`<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY x SYSTEM "file:///etc/passwd">]>${svg}`),
      'a.svg',
      415,
    ],
    ['B13: MVG', Buffer.from(`push graphic-context\nviewbox 0 0 640 480\nfill 'url(http://evil.example/)'${' '.repeat(40)}`), 'a.mvg', 415],
    ['B14: TIFF', Buffer.concat([Buffer.from('II*\0'), Buffer.alloc(100)]), 'a.tiff', 415],
    ['B15: one byte', Buffer.from('x'), 'a.jpg', 422],
    ['B15: eleven bytes of a JPEG', Buffer.from([0xff, 0xd8, 0xff, 0xe0, 0, 16, 74, 70, 73, 70, 0]), 'a.jpg', 422],
  ])('%s', async (_, bytes, name, status) => {
    const reply = await send(bytes, { name, type: 'image/jpeg' })
    expect([reply.statusCode, reply.json().says.length > 10]).toEqual([status, true])
    nothingKept()
  })
  test('B12: a real JPEG with a ZIP behind it: what is shown has lost it', async () => {
    const id = idOf(await send(Buffer.concat([jpeg, Buffer.from('PK\x03\x04evil.html')]), { name: 'a.jpg.svg' }))
    expect((await book.get(`/photos/${id}/picture`)).rawPayload.toString('latin1')).not.toContain('evil')
    expect((await book.get(`/photos/${id}/original`)).headers['content-type']).toBe('image/jpeg')
  })
  test('B15: empty, and cut short', async () => {
    const empty = await send(Buffer.alloc(0))
    expect([empty.statusCode, empty.json().says]).toEqual([422, 'This file is empty. Nothing was saved.'])
    nothingKept()
    const large = await sharp({
      create: { width: 900, height: 900, channels: 3, background: '#000', noise: { type: 'gaussian', mean: 128, sigma: 40 } },
    })
      .jpeg()
      .toBuffer()
    const cut = await send(large.subarray(0, large.length / 2))
    expect([cut.statusCode, cut.json().says]).toEqual([
      422,
      'This picture is damaged or was cut short on its way. Send it again, or take another. Nothing was saved.',
    ])
    nothingKept()
  })
})

describe('several files of which one is not taken', () => {
  test('it is named, the others are kept, and both are said', async () => {
    const files = [
      { name: 'a.jpg', bytes: jpeg },
      { name: 'notes.txt', bytes: Buffer.from('These are only words.') },
      { name: 'b.png', bytes: await picture(30, 30).png().toBuffer() },
    ]
    const page = await book.send(`/vehicles/${vehicle}/photos`, { files })
    expect([page.statusCode, rows()]).toEqual([415, 2])
    expect(page.body).toContain('“notes.txt”: Pictures (JPEG, PNG, WebP, AVIF, HEIC) and PDF papers are taken; this is none of them.')
    expect(page.body).toContain('The other 2 were saved.')
    expect(page.body).not.toContain('Nothing was saved')
    expect(page.body).toContain(`href="/vehicles/${vehicle}/photos"`)
    const script = await book.send(`/vehicles/${vehicle}/photos`, { files, headers: { accept: 'application/json' } })
    expect([script.statusCode, script.json().photos.length, rows()]).toEqual([415, 2, 2])
  })
  test.each([
    ['a caption of 501 letters', { caption: 'x'.repeat(501) }],
    ['a caption with a NUL', { caption: 'a\u0000b' }],
    ['a component that the vehicle never had', { component: 'ghost' }],
    ['a key of 61 letters', { once: 'x'.repeat(61) }],
  ])('%s: none is kept', async (_, fields) => {
    const reply = await send(jpeg, { fields })
    expect([reply.statusCode, reply.json().says.endsWith('Nothing was saved.')]).toEqual([422, true])
    nothingKept()
  })
  test('no file: said so', async () => {
    const reply = await book.send(`/vehicles/${vehicle}/photos`, { files: [{ name: '', bytes: Buffer.alloc(0) }] })
    expect([reply.statusCode, reply.body.includes('No file was chosen. Nothing was saved.')]).toEqual([422, true])
  })
})

describe('pictures that unpack to far more than they are (B14)', () => {
  test.each([
    ['16,000 × 16,000 PNG', () => png(16_000, 16_000), 256],
    ['20,000 × 20,000 PNG', () => png(20_000, 20_000), 400],
    ['65,500 × 65,500 JPEG', () => jpegOf(65_500, 65_500), 4290],
    ['12,000 × 12,000 AVIF', () => avifOf(12_000, 12_000), 144],
  ])('%s is refused by its head', async (_, make, size_Mpx) => {
    const bytes = await make()
    expect(bytes.length).toBeLessThan(100_000)
    // Not decoded: it takes no longer than a picture of 3 Mpx, which is; a bomb decoded would take a hundred times that.
    const fair = await sharp({ create: { width: 2000, height: 1500, channels: 3, background: '#123456' } })
      .png()
      .toBuffer()
    const start_ms = performance.now()
    expect((await send(fair)).statusCode).toBe(201)
    const fair_ms = performance.now() - start_ms
    await send(bytes)
    const again_ms = performance.now()
    await send(bytes)
    expect(performance.now() - again_ms).toBeLessThan(3 * fair_ms + 100)
    book.db.$client.prepare('DELETE FROM photos').run()
    rmSync(join(book.data, 'photos'), { recursive: true })
    const before = process.memoryUsage().rss
    const reply = await send(bytes)
    expect([reply.statusCode, reply.json().says]).toEqual([
      422,
      `This picture is too large: ${size_Mpx} Mpx, limit 80 Mpx. Nothing was saved.`,
    ])
    expect(process.memoryUsage().rss - before).toBeLessThan(50 * 1024 * 1024)
    nothingKept()
  })
  test('a strip of 1 × 65,000 is a picture', async () => {
    expect((await send(await picture(1, 65_000).png().toBuffer())).statusCode).toBe(201)
  })
  test('of two hundred frames the first is taken', async () => {
    const frames = Array.from({ length: 200 }, () => ({ create: { width: 8, height: 8, channels: 3 as const, background: '#123' } }))
    const moving = await sharp(frames as never, { join: { animated: true } } as never)
      .webp()
      .toBuffer()
    const sent = await send(moving)
    expect(sent.body).toContain('photos')
    const id = idOf(sent)
    expect((await sharp((await book.get(`/photos/${id}/picture`)).rawPayload).metadata()).pages ?? 1).toBe(1)
  })
  test('with metadata of megabytes', async () => {
    // 80 blocks of 64 kB: one that says it is EXIF and is not, the rest of nothing known.
    const block = Buffer.concat([Buffer.from([0xff, 0xe1, 0xff, 0xff]), Buffer.from('Exif\0\0'), Buffer.alloc(65_527, 65)])
    const fat = Buffer.concat([jpeg.subarray(0, 2), ...Array.from({ length: 80 }, () => block), jpeg.subarray(2)])
    expect((await send(fat)).statusCode).toBe(201)
  })
})

describe('forms that are not well made (B16)', () => {
  const raw = (payload: Buffer | string, headers: Record<string, string>) =>
    book.app.inject({
      method: 'POST',
      url: `/vehicles/${vehicle}/photos`,
      headers: { cookie: book.cookie, accept: 'application/json', ...headers },
      payload,
    })
  const multipart = (parts: readonly string[]) => `${parts.map((part) => `--b\r\n${part}\r\n`).join('')}--b--\r\n`
  const type = { 'content-type': 'multipart/form-data; boundary=b' }
  const field = (name: string, value: string) => `Content-Disposition: form-data; name="${name}"\r\n\r\n${value}`
  const file = (body = 'x') => `Content-Disposition: form-data; name="photo"; filename="a.jpg"\r\nContent-Type: image/jpeg\r\n\r\n${body}`

  test('a file of 51 MB', async () => {
    const reply = await send(Buffer.concat([jpeg, Buffer.alloc(51 * 1024 * 1024)]))
    expect([reply.statusCode, reply.json().says]).toEqual([413, 'At most 50 MB for one file. Nothing was saved.'])
    nothingKept()
  })
  test.each([
    ['no boundary', multipart([]), { 'content-type': 'multipart/form-data' }, [400]],
    [
      'ten thousand fields',
      () => multipart([field('_token', book.token), ...Array.from({ length: 10_000 }, (_, n) => field(`f${n}`, 'x'))]),
      type,
      [413],
    ],
    ['a thousand files', () => multipart([field('_token', book.token), ...Array.from({ length: 1000 }, () => file())]), type, [413]],
    ['a field name of a megabyte', () => multipart([field('_token', book.token), field('n'.repeat(1_000_000), 'x')]), type, [413]],
    ['a field name just too long', () => multipart([field('_token', book.token), field('n'.repeat(101), 'x')]), type, [413]],
    ['a field without a name', () => multipart(['Content-Disposition: form-data\r\n\r\nx']), type, [400]],
    ['a file without a name', () => multipart([file().replace('name="photo"; ', '')]), type, [400]],
    ['a field called __proto__', () => multipart([field('_token', book.token), field('__proto__', 'x')]), type, [400]],
    ['a field called constructor', () => multipart([field('_token', book.token), field('constructor', 'x')]), type, [400]],
    [
      'a file called __proto__',
      () => multipart([field('_token', book.token), file().replace('name="photo"', 'name="__proto__"')]),
      type,
      [400],
    ],
    ['cut off in the middle', () => multipart([field('_token', book.token), file()]).slice(0, 200), type, [400, 403, 413, 422]],
    ['a body that is no form', 'nothing', type, [400, 403, 422]],
  ])('%s', async (_, payload, headers, statuses) => {
    const reply = await raw(typeof payload === 'function' ? payload() : payload, headers)
    expect(statuses).toContain(reply.statusCode)
    expect(reply.json().says).toMatch(/\.$/)
    nothingKept()
    expect(({} as { x?: unknown }).x).toBeUndefined()
  })
  test('slow senders are given up: a request ends after half an hour, and long before where next to nothing comes', () => {
    expect(book.app.server.requestTimeout).toBe(30 * 60_000)
    expect(book.app.server.headersTimeout).toBe(60_000)
  })
  test('B1: without the token, or with it behind the file, nothing is kept', async () => {
    const cases: [number, string[]][] = [
      [403, [file(jpeg.toString('latin1'))]],
      [422, [file(jpeg.toString('latin1')), field('_token', book.token)]],
      [403, [field('_token', 'wrong'), file(jpeg.toString('latin1'))]],
    ]
    for (const [status, parts] of cases) {
      const reply = await raw(Buffer.from(multipart(parts), 'latin1'), type)
      expect(reply.statusCode).toBe(status)
      nothingKept()
    }
  })
  test('a viewer’s files are read past: nothing is written even for a moment', async () => {
    book.db.$client.prepare("UPDATE people SET role = 'viewer' WHERE id = ?").run(book.actor.personId)
    const written: string[] = []
    const watcher = watch(book.data, { recursive: true }, (_, name) => written.push(String(name)))
    try {
      expect((await send(jpeg)).statusCode).toBe(403)
    } finally {
      watcher.close()
      book.db.$client.prepare("UPDATE people SET role = 'owner' WHERE id = ?").run(book.actor.personId)
    }
    expect(written).toEqual([])
    nothingKept()
  })
  test('a stranger’s files at the door are read past', async () => {
    const door = await book.app.inject('/login')
    const token = /name="_token" value="([^"]+)"/.exec(door.body)?.[1] as string
    const written: string[] = []
    const watcher = watch(book.data, { recursive: true }, (_, name) => written.push(String(name)))
    const reply = await book.app.inject({
      method: 'POST',
      url: '/sessions',
      headers: { ...type, cookie: String(door.headers['set-cookie']).split(';')[0] as string },
      payload: multipart([field('_token', token), field('name', 'x'), field('password', 'y'), file('z'.repeat(100_000))]),
    })
    watcher.close()
    // The token is right: the door itself answers, that this is no name and password.
    expect([reply.statusCode === 401 || reply.statusCode === 422, written]).toEqual([true, []])
  })
  test('signed out: 401 for a script, the door for a browser', async () => {
    const reply = await book.app.inject({
      method: 'POST',
      url: `/vehicles/${vehicle}/photos`,
      headers: { accept: 'application/json', ...type },
      payload: multipart([file()]),
    })
    expect([reply.statusCode, reply.json().says]).toEqual([401, expect.stringContaining('signed out')])
    nothingKept()
  })
})

describe('names of files (B17)', () => {
  test.each([
    '../../etc/passwd',
    '..\\..\\x',
    '/abs',
    'C:\\x',
    'con',
    '.',
    `${'n'.repeat(5000)}.jpg`,
    '\u202egpj.exe',
    'a\nb.jpg',
    '"; filename=x.html',
    '🔧.jpg',
    'é.jpg',
    'e\u0301.jpg',
    '<script>alert(1)</script>.jpg',
    // An odd number of units before signs of two: cut between the halves it could not be encoded.
    `a${'🔧'.repeat(300)}.jpg`,
  ])('%s', async (name) => {
    const sent = await send(jpeg, { name })
    expect(sent.statusCode).toBe(201)
    const id = idOf(sent)
    expect(files('photos').every((path) => /photos\/[0-9a-f]{2}\/[0-9a-f]{2}\/[0-9a-f]{64}\.jpg$/.test(path))).toBe(true)
    const { headers } = await book.get(`/photos/${id}/original`)
    // RFC 6266: one quoted plain name, one encoded; nothing that ends the line or the quotes.
    expect(headers['content-disposition']).toMatch(/^inline; filename="[\w. -]*"; filename\*=UTF-8''[\w.!~%+&^`|$#-]*$/)
    const shown = (await book.get(`/photos/${id}`)).body
    expect(shown).not.toContain('<script>')
    expect(shown).not.toMatch(/[\u202a-\u202e\u2066-\u2069]/)
    expect(Number(book.db.$client.prepare('SELECT length(file_name) FROM photos').pluck().get())).toBeLessThanOrEqual(200)
  })
})

describe('ways round the folder (B18)', () => {
  test.each(['..%2f..%2fapp.db', '%252e%252e%252f', '%00', 'photos', '../loombook.sqlite'])('/photos/%s', async (path) => {
    expect([400, 404]).toContain((await book.get(`/photos/${path}`)).statusCode)
    expect([400, 404]).toContain((await book.get(`/photos/${path}/original`)).statusCode)
  })
  test('a link planted in the place of an original is not followed', async () => {
    const id = idOf(await send(jpeg))
    const [path] = files('photos') as [string]
    const secret = join(book.data, 'secret')
    writeFileSync(secret, 'SECRET')
    rmSync(path)
    symlinkSync(secret, path)
    const reply = await book.get(`/photos/${id}/original`)
    expect([reply.statusCode, reply.body.includes('SECRET')]).toEqual([404, false])
  })
})

describe('an original that is not there any more (R7)', () => {
  test('the page says so in words and shows no broken picture', async () => {
    const id = idOf(await send(jpeg))
    rmSync(join(book.data, 'photos'), { recursive: true })
    mkdirSync(join(book.data, 'photos'))
    const page = (await book.get(`/photos/${id}`)).body
    expect(page).toContain('The original is missing')
    expect(page).not.toContain('<image')
    expect((await book.get(`/photos/${id}/original`)).statusCode).toBe(404)
    const gallery = (await book.get(`/vehicles/${vehicle}/photos`)).body
    expect([gallery.includes('The original is missing'), gallery.includes('<img')]).toEqual([true, false])
  })
  test('one whose size has changed is told apart, and is whole again once it is sent again', async () => {
    const id = idOf(await send(jpeg))
    const [path] = files('photos') as [string]
    expect((await book.get(`/photos/${id}`)).body).not.toContain('The original is not what was sent')
    writeFileSync(path, jpeg.subarray(0, jpeg.length - 5))
    expect((await book.get(`/photos/${id}`)).body).toContain('The original is not what was sent')
    expect(idOf(await send(jpeg))).toBe(id)
    expect((await book.get(`/photos/${id}`)).body).not.toContain('The original is not what was sent')
  })
})

describe('sent again (R17)', () => {
  test('five times with one key: one photo, the same answer; five times without: one photo of one place', async () => {
    const replies = []
    for (let n = 0; n < 5; n++) replies.push(await send(jpeg, { fields: { once: 'k1' } }))
    expect(new Set(replies.map((reply) => reply.body)).size).toBe(1)
    expect(rows()).toBe(1)
    const other = await picture(20, 20).png().toBuffer()
    const both = await Promise.all([1, 2, 3, 4, 5].map(() => send(other)))
    expect(new Set(both.map((reply) => reply.body)).size).toBe(1)
    expect(rows()).toBe(2)
  })
})

describe('caption, marks, trash', () => {
  test('two people change one caption: the second is told, with both (R16)', async () => {
    const id = idOf(await send(jpeg, { fields: { caption: 'Fuse box' } }))
    expect((await book.post(`/photos/${id}/captions`, { caption: 'Fuse box, lid off', was: 'Fuse box' })).statusCode).toBe(303)
    const second = await book.post(`/photos/${id}/captions`, { caption: 'Relay box', was: 'Fuse box' })
    expect(second.statusCode).toBe(409)
    expect(second.body).toContain('Fuse box, lid off')
    expect(second.body).toContain('value="Relay box"')
    expect(book.db.$client.prepare('SELECT caption FROM photos').pluck().get()).toBe('Fuse box, lid off')
  })
  test('a place pressed on the picture opens its branch, and stands in the list', async () => {
    const id = idOf(await send(jpeg))
    expect((await book.post(`/photos/${id}/marks`, { mark: 'r7', 'at.x': '150', 'at.y': '50' })).statusCode).toBe(303)
    expect((await book.post(`/photos/${id}/marks`, { mark: 'block', x: '10', y: '90' })).statusCode).toBe(303)
    expect((await book.post(`/photos/${id}/marks`, { mark: 'block', x: '101', y: '90' })).statusCode).toBe(422)
    expect((await book.post(`/photos/${id}/marks`, { mark: '', x: '1', y: '90' })).statusCode).toBe(422)
    // Enter in a field is a press at 0, 0: what is typed counts, and alone it is no place.
    expect((await book.post(`/photos/${id}/marks`, { mark: 'r3', 'at.x': '0', 'at.y': '0', x: '20', y: '30' })).statusCode).toBe(303)
    expect((await book.post(`/photos/${id}/marks`, { mark: 'r3', 'at.x': '0', 'at.y': '0', x: '', y: '' })).statusCode).toBe(422)
    expect((await book.post(`/photos/${id}/marks`, { mark: 'r3', 'at.x': '0', 'at.y': '0', x: '20', y: '' })).statusCode).toBe(422)
    // 300 × 200: 150 px of 300 is 50 %, 50 px of 200 is 25 %.
    const page = (await book.get(`/photos/${id}`)).body
    expect(page).toContain('50 % from the left, 25 % from the top')
    expect(page).toContain('10 % from the left, 90 % from the top')
    expect(page).toContain('20 % from the left, 30 % from the top')
    expect([...page.matchAll(/marks\/[0-9a-f-]{36}\/removals/g)]).toHaveLength(3)
    expect(page).toContain(`href="/vehicles/${vehicle}/components/r7"`)
    for (const mark of ['ghost', '__proto__', ''])
      expect((await book.post(`/photos/${id}/marks`, { mark, x: '5', y: '5' })).statusCode, mark).toBe(422)
    const again = await book.post(`/photos/${id}/marks`, { mark: 'r7', x: '5', y: '' })
    expect(again.body).toMatch(/<details open><summary>Mark/)
    expect(again.body).toMatch(/id="x"[^>]*value="5"/)
    expect(again.body).toMatch(/<option value="r7" selected>/)
    const mark = /marks\/([0-9a-f-]{36})\/removals/.exec(page)?.[1]
    expect((await book.post(`/photos/${id}/marks/${mark}/removals`, {})).statusCode).toBe(303)
    expect((await book.post(`/photos/${id}/marks/${mark}/removals`, {})).statusCode).toBe(404)
  })
  test('what it shows stays chosen after that was taken out', async () => {
    const id = idOf(await send(jpeg, { fields: { component: 'r7' } }))
    const out = await book.post(`/vehicles/${vehicle}/entries`, {
      verb: 'removed',
      component: 'r7',
      fate: 'bin',
      on: '2026-11-25',
      do: 'save',
    })
    expect(out.statusCode).toBe(303)
    expect((await book.get(`/photos/${id}`)).body).toMatch(/<option value="r7" selected>Relay R7/)
    expect((await book.post(`/photos/${id}/captions`, { caption: 'It was here', component: 'r7' })).statusCode).toBe(303)
    expect((await book.post(`/photos/${id}/captions`, { caption: 'x', component: 'ghost' })).statusCode).toBe(422)
    await book.post(`${out.headers.location}/withdrawals`, {})
  })
  test('put in the trash it is gone from every list, and comes back', async () => {
    const id = idOf(await send(jpeg))
    await book.post(`/photos/${id}/trash`, {})
    expect((await book.get(`/vehicles/${vehicle}/photos`)).body).not.toContain(id)
    expect((await book.get(`/photos/${id}`)).body).toContain('Undo: bring it back')
    await book.post(`/photos/${id}/restorations`, {})
    expect((await book.get(`/vehicles/${vehicle}/photos`)).body).toContain(id)
  })
})

test('another household’s photo answers as one that is not there (B3)', async () => {
  const stranger = household(book.db, book.clock, 'Stranger')
  const made = createVehicle(book.db, book.clock, stranger, { name: 'Theirs', systemVoltage_V: 12 })
  const id = idOf(await send(jpeg))
  book.db.$client
    .prepare('UPDATE photos SET household_id = ?, vehicle_id = ?, recorded_by = ?')
    .run(stranger.householdId, made.ok ? made.value.id : '', stranger.personId)
  for (const path of ['', '/thumbnail', '/picture', '/original'])
    expect((await book.get(`/photos/${id}${path}`)).statusCode, path).toBe(404)
  for (const path of ['captions', 'trash', 'restorations', 'marks'])
    expect((await book.post(`/photos/${id}/${path}`, { caption: 'x', component: 'r7', mark: 'r7', x: '1', y: '1' })).statusCode, path).toBe(
      404,
    )
  const theirs = made.ok ? made.value.id : ''
  expect((await book.send(`/vehicles/${theirs}/photos`, { files: [{ name: 'a.jpg', bytes: jpeg }] })).statusCode).toBe(404)
  expect(readFileSync(files('photos')[0] as string).equals(jpeg)).toBe(true)
})

/** A PNG of one colour, whatever its size: a few kilobytes of zeros packed. */
function png(width: number, height: number): Buffer {
  const chunk = (name: string, body: Buffer) => {
    const head = Buffer.alloc(8)
    head.writeUInt32BE(body.length)
    head.write(name, 4, 'latin1')
    const check = Buffer.alloc(4)
    check.writeUInt32BE(crc(Buffer.concat([Buffer.from(name, 'latin1'), body])))
    return Buffer.concat([head, body, check])
  }
  const size = Buffer.alloc(13)
  size.writeUInt32BE(width)
  size.writeUInt32BE(height, 4)
  size.set([1, 0, 0, 0, 0], 8)
  const packed = deflateSync(Buffer.alloc((Math.ceil(width / 8) + 1) * height), { level: 9 })
  return Buffer.concat([
    Buffer.from([0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a]),
    chunk('IHDR', size),
    chunk('IDAT', packed),
    chunk('IEND', Buffer.alloc(0)),
  ])
}

/** The check of ISO 3309, as PNG asks for it. */
function crc(bytes: Buffer): number {
  let rest = 0xffffffff
  for (const byte of bytes) {
    rest ^= byte
    for (let n = 0; n < 8; n++) rest = rest & 1 ? (rest >>> 1) ^ 0xedb88320 : rest >>> 1
  }
  return (rest ^ 0xffffffff) >>> 0
}

/** A small AVIF whose head claims other sides: its box of sides (ispe) holds a width and a height of four bytes each. */
async function avifOf(width: number, height: number): Promise<Buffer> {
  const bytes = await picture(64, 64).avif().toBuffer()
  const box = bytes.indexOf('ispe')
  bytes.writeUInt32BE(width, box + 8)
  bytes.writeUInt32BE(height, box + 12)
  return bytes
}

/** A small JPEG whose head claims other sides. */
function jpegOf(width: number, height: number): Buffer {
  const bytes = Buffer.from(jpeg)
  const frame = bytes.indexOf(Buffer.from([0xff, 0xc0]))
  bytes.writeUInt16BE(height, frame + 5)
  bytes.writeUInt16BE(width, frame + 7)
  return bytes
}
