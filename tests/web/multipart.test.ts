/** Forms with files over a real connection: an answer that is heard, a sender who is too slow, one who hangs up, a disk that is full. */
import { existsSync, readdirSync } from 'node:fs'
import { request } from 'node:http'
import { type AddressInfo, connect } from 'node:net'
import { join } from 'node:path'
import { Readable } from 'node:stream'
import { setTimeout as later } from 'node:timers/promises'
import fastify from 'fastify'
import { afterAll, beforeAll, expect, test } from 'vitest'
import { isDamage, isFull, isInUse } from '../../server/records/damage.ts'
import { errorPages } from '../../server/web/error-pages.ts'
import { pace } from '../../server/web/pace.ts'
import { type Book, openBook } from '../pages/book.ts'

let book: Book
let port = 0
let path = ''
beforeAll(async () => {
  book = await openBook()
  path = `/vehicles/${book.vehicles[0]}/photos`
  await book.app.listen({ host: '127.0.0.1', port: 0 })
  port = (book.app.server.address() as AddressInfo).port
})
afterAll(() => book.close())

const part = (head: string, body: string) => `--b\r\nContent-Disposition: form-data; ${head}\r\n\r\n${body}\r\n`
const start = () => `${part('name="_token"', book.token)}--b\r\nContent-Disposition: form-data; name="photo"; filename="a.jpg"\r\n\r\n`
const waiting = () => (existsSync(join(book.data, 'tmp')) ? readdirSync(join(book.data, 'tmp')) : [])
const headers = () => ({ cookie: book.cookie, accept: 'application/json', 'content-type': 'multipart/form-data; boundary=b' })

test('B16: 60 MB without a length: heard as 413, the connection ends, nothing is left', async () => {
  const answer = await new Promise<{ status: number; says: string; connection: string }>((resolve, reject) => {
    const sent = request({ port, path, method: 'POST', headers: headers() }, (reply) => {
      let body = ''
      reply.on('data', (chunk) => {
        body += chunk
      })
      reply.on('end', () =>
        resolve({ status: reply.statusCode ?? 0, says: JSON.parse(body).says, connection: String(reply.headers.connection) }),
      )
    })
    sent.on('error', reject)
    sent.write(start())
    for (let n = 0; n < 60; n++) sent.write(Buffer.alloc(1024 * 1024, n))
    sent.end('\r\n--b--\r\n')
  })
  expect(answer).toEqual({ status: 413, says: 'At most 50 MB for one file. Nothing was saved.', connection: 'close' })
  expect(waiting()).toEqual([])
})

test('whoever hangs up in the middle leaves nothing behind', async () => {
  const socket = connect(port, '127.0.0.1')
  const lines = [`POST ${path} HTTP/1.1`, 'host: x', ...Object.entries(headers()).map((one) => one.join(': ')), 'content-length: 9999999']
  socket.write(`${lines.join('\r\n')}\r\n\r\n${start()}${'x'.repeat(200_000)}`)
  for (let n = 0; n < 100 && waiting().length === 0; n++) await later(20)
  expect(waiting()).toHaveLength(1)
  socket.destroy()
  for (let n = 0; n < 100 && waiting().length > 0; n++) await later(20)
  expect(waiting()).toEqual([])
})

test('B16: a byte now and then is given up; a steady sender is not, however long it takes', async () => {
  const app = fastify()
  await app.register(pace, { window_ms: 100, least_bytes: 20 })
  app.post('/', async () => 'taken')
  await app.listen({ host: '127.0.0.1', port: 0 })
  const at = (app.server.address() as AddressInfo).port
  const sendBy = async (bytes: number, pause_ms: number) => {
    const socket = connect(at, '127.0.0.1')
    let heard = ''
    let isClosed = false
    socket.on('data', (chunk) => {
      heard += chunk
    })
    socket.on('error', () => {})
    socket.on('close', () => {
      isClosed = true
    })
    socket.write('POST / HTTP/1.1\r\nhost: x\r\ncontent-type: text/plain\r\ncontent-length: 1200\r\n\r\n')
    for (let n = 0; n < 1200 && !isClosed && heard === ''; n += bytes) {
      socket.write('x'.repeat(bytes))
      await later(pause_ms)
    }
    for (let n = 0; n < 50 && heard === ''; n++) await later(20)
    socket.destroy()
    return heard.split('\r\n')[0]
  }
  expect(await sendBy(1, 60)).toBe('HTTP/1.1 408 Request Timeout')
  // 60 bytes each 20 ms: four windows, each with many times what is asked.
  expect(await sendBy(60, 20)).toBe('HTTP/1.1 200 OK')
  await app.close()
})

/** One address with so many pieces of 64 kB, taken at the pace that is asked for in each 400 ms. */
async function library(given: { readonly pieces: number; readonly least_taken_bytes: number }) {
  const app = fastify()
  await app.register(pace, { taken_ms: 400, least_taken_bytes: given.least_taken_bytes })
  app.get('/', async (_request, reply) =>
    reply.type('application/octet-stream').send(
      Readable.from(
        (function* () {
          for (let n = 0; n < given.pieces; n++) yield Buffer.alloc(65_536)
        })(),
      ),
    ),
  )
  await app.listen({ host: '127.0.0.1', port: 0 })
  const open = () => new Promise<number>((resolve) => app.server.getConnections((_, count) => resolve(count)))
  const ask = async () => {
    const socket = connect((app.server.address() as AddressInfo).port, '127.0.0.1')
    socket.on('error', () => {})
    socket.pause()
    socket.write('GET / HTTP/1.1\r\nhost: x\r\nconnection: close\r\n\r\n')
    for (let n = 0; n < 100 && (await open()) === 0; n++) await later(10)
    return socket
  }
  return { app, ask, open }
}

test('B16: an answer that nobody takes is given up; one that is taken slowly is not', async () => {
  const pieces = 480
  const { app, ask, open } = await library({ pieces, least_taken_bytes: 1_000_000 })
  const silent = await ask()
  expect(await open()).toBe(1)
  for (let n = 0; n < 100 && (await open()) > 0; n++) await later(50)
  expect(await open()).toBe(0)
  silent.destroy()

  const slow = await ask()
  let bytes = 0
  const begun = performance.now()
  for await (const piece of slow) {
    bytes += (piece as Buffer).length
    await later(2)
  }
  expect(bytes).toBeGreaterThan(pieces * 65_536)
  expect(performance.now() - begun).toBeGreaterThan(800)
  await app.close()
})

test('B16: an answer of which a little is taken now and then, to hold the line, is given up too', async () => {
  // Sips of 64 kB each 10 ms at the fastest are at most 2.6 MB in each such time: seldom nothing, whatever the system holds between, and never 20 MB.
  const { app, ask, open } = await library({ pieces: 4000, least_taken_bytes: 20_000_000 })
  const sipping = await ask()
  let sipped = 0
  sipping.on('data', (piece) => {
    sipped += piece.length
    sipping.pause()
  })
  const begun = performance.now()
  while ((await open()) > 0 && performance.now() - begun < 8000) {
    sipping.resume()
    await later(10)
  }
  expect(await open()).toBe(0)
  expect(sipped).toBeGreaterThan(10 * 65_536)
  expect(sipped).toBeLessThan(4000 * 65_536)
  sipping.destroy()
  await app.close()
}, 20_000)

test.each(['ENOSPC', 'EDQUOT', 'SQLITE_FULL'])('R4: %s is said as what it is, and not as a fault of ours', async (code) => {
  const app = fastify()
  await app.register(errorPages, { isFull, isDamage, isInUse })
  app.get('/', async () => {
    throw Object.assign(new Error(code), { code })
  })
  const reply = await app.inject({ url: '/', headers: { accept: 'application/json' } })
  expect([reply.statusCode, reply.json().says.startsWith('The disk is full: nothing was saved.')]).toEqual([507, true])
  await app.close()
})
