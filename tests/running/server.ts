/** The real server as a process of its own, and a browser's part of talking to it. */
import { type ChildProcess, spawn } from 'node:child_process'
import { Agent, request } from 'node:http'

export type Answer = { readonly status: number; readonly location: string; readonly cookies: readonly string[]; readonly body: string }
/** `isSent` is true once the last byte of the request has left this process. */
export type Asked = { readonly answer: Promise<Answer>; readonly isSent: () => boolean }
export type Running = {
  readonly child: ChildProcess
  readonly port: number
  readonly out: () => string
  /** kill -9, and every connection with it; answers when the process is gone */
  readonly kill: () => Promise<void>
  readonly ask: (given: {
    readonly method?: 'GET' | 'POST'
    readonly path: string
    readonly headers?: Readonly<Record<string, string>>
    readonly body?: Buffer | string
  }) => Asked
  /** the same process, asked at another port */
  readonly at: (port: number) => Running
}

/** Resolves once it listens; rejects with what it said if it ends before. `program` are node's own arguments. */
export async function startServer(given: {
  readonly program: readonly string[]
  readonly data: string
  readonly more?: Readonly<Record<string, string>>
}): Promise<Running> {
  const child = spawn(process.execPath, [...given.program], {
    env: { PATH: process.env.PATH, HOME: process.env.HOME, LOOMBOOK_DATA: given.data, LOOMBOOK_PORT: '0', ...given.more },
    stdio: ['ignore', 'pipe', 'pipe'],
  })
  let said = ''
  const port = await new Promise<number>((resolve, reject) => {
    const heard = (piece: Buffer) => {
      said += piece.toString()
      const found = /http:\/\/[^\s"]*?:(\d+)/.exec(said)?.[1]
      if (found) resolve(Number(found))
    }
    child.stdout?.on('data', heard)
    child.stderr?.on('data', heard)
    child.once('exit', (code) => reject(new Error(`The server ended with ${code} before it listened. It said:\n${said}`)))
  })
  const agent = new Agent({ keepAlive: true, maxSockets: 8 })
  const running = (port: number): Running => ({
    child,
    port,
    out: () => said,
    kill: () =>
      new Promise((resolve) => {
        child.once('exit', () => {
          agent.destroy()
          resolve()
        })
        child.kill('SIGKILL')
      }),
    ask: ({ method = 'GET', path, headers = {}, body }) => {
      let isSent = false
      const answer = new Promise<Answer>((resolve, reject) => {
        const asked = request({ agent, method, host: '127.0.0.1', port, path, headers }, (reply) => {
          const pieces: Buffer[] = []
          reply.on('data', (piece: Buffer) => pieces.push(piece))
          reply.on('error', reject)
          reply.on('aborted', () => reject(new Error('cut off')))
          reply.on('end', () =>
            resolve({
              status: reply.statusCode ?? 0,
              location: reply.headers.location ?? '',
              cookies: (reply.headers['set-cookie'] ?? []).map((one) => one.split(';')[0] as string),
              body: Buffer.concat(pieces).toString('utf8'),
            }),
          )
        })
        asked.on('finish', () => {
          isSent = true
        })
        asked.on('error', reject)
        asked.end(body)
      })
      return { answer, isSent: () => isSent }
    },
    at: running,
  })
  return running(port)
}

const FORM = 'application/x-www-form-urlencoded'

/** Makes the first owner and answers what a signed-in browser sends along. */
export async function firstOwner(server: Running): Promise<{ readonly cookie: string; readonly token: string }> {
  const door = await server.ask({ path: '/first-run' }).answer
  const made = await server.ask({
    method: 'POST',
    path: '/first-run',
    headers: { cookie: door.cookies.join('; '), 'content-type': FORM },
    body: new URLSearchParams({ _token: tokenIn(door.body), name: 'Robin', password: 'a long enough word', start: 'empty' }).toString(),
  }).answer
  const cookie = made.cookies.join('; ')
  const token = tokenIn((await server.ask({ path: '/', headers: { cookie } }).answer).body)
  if (made.status !== 303 || token === '') throw new Error(`No owner could be made: ${made.status}`)
  return { cookie, token }
}

export function formOf(fields: Readonly<Record<string, string | readonly string[]>>) {
  const all = Object.entries(fields).flatMap(([name, value]) =>
    (typeof value === 'string' ? [value] : value).map((one): [string, string] => [name, one]),
  )
  return { headers: { 'content-type': FORM }, body: new URLSearchParams(all).toString() }
}

/** A form with one file. */
export function fileForm(fields: Readonly<Record<string, string>>, file: { readonly name: string; readonly bytes: Buffer }) {
  const line = '----------a-line-between'
  const field = (name: string, value: string) => `--${line}\r\nContent-Disposition: form-data; name="${name}"\r\n\r\n${value}\r\n`
  const head = `--${line}\r\nContent-Disposition: form-data; name="photo"; filename="${file.name}"\r\nContent-Type: image/png\r\n\r\n`
  const fore = Object.entries(fields)
    .map(([name, value]) => field(name, value))
    .join('')
  return {
    headers: { 'content-type': `multipart/form-data; boundary=${line}` },
    body: Buffer.concat([Buffer.from(fore + head), file.bytes, Buffer.from(`\r\n--${line}--\r\n`)]),
  }
}

export function tokenIn(body: string): string {
  return /name="_token" value="([^"]+)"/.exec(body)?.[1] ?? ''
}
