/**
 * Who is connected, for how long with nothing asked, and who gives up a place when all are taken. Each connection takes memory and a
 * descriptor, whatever it sends, and who has no account can open any number: while there are places left nobody loses one that is in use.
 */
import type { IncomingMessage, ServerResponse } from 'node:http'
import type { Socket } from 'node:net'
import plugin from 'fastify-plugin'

/** A browser opens six at most: some eighty of them at once. */
export const MOST_connections = 512
/** Who holds more than this part of all places gives up its own first: far more than one house with its browsers ever has. */
const SHARE = 1 / 4
const LOOK_every_ms = 5000
const NOTED_every_ms = 60_000
const TOO_LATE = 'HTTP/1.1 408 Request Timeout\r\nConnection: close\r\nContent-Length: 0\r\n\r\n'

type Options = {
  readonly most: number
  /** addresses that count as one */
  readonly networkOf?: (address: string) => string
  readonly look_every_ms?: number
}

/** A connection. Blank lines and half a header are no request. */
type Line = {
  readonly socket: Socket
  /** requests whose header has come and which are not done with; a browser has one at a time */
  readonly open: Map<IncomingMessage, ServerResponse>
  /** who is at the other end: behind a trusted proxy, whom it named last */
  caller: string
  hasAsked: boolean
  /** when its last request began or was done with; else when it was opened */
  since_ms: number
}

export const connections = plugin<Options>(async (app, options) => {
  const { most, networkOf = (address) => address, look_every_ms = LOOK_every_ms } = options
  const { server } = app
  const lines = new Map<Socket, Line>()
  const noted = new Map<string, number>()
  server.maxConnections = most
  server.on('connection', (socket) => {
    const line = { socket, open: new Map(), caller: networkOf(socket.remoteAddress ?? ''), hasAsked: false, since_ms: performance.now() }
    lines.set(socket, line)
    socket.once('close', () => lines.delete(socket))
    // It has the last place: whoever comes next would find the door shut, the machines that watch over this one among them.
    if (lines.size >= most) makeRoom(line)
  })
  server.on('request', (request, response) => {
    const line = lines.get(request.socket)
    if (!line) return
    if (line.open.size === 0) line.since_ms = performance.now()
    line.hasAsked = true
    line.open.set(request, response)
    response.once('close', () => isUnderWay(line))
  })
  app.addHook('onRequest', async (request) => {
    const line = lines.get(request.raw.socket)
    if (line) line.caller = networkOf(request.ip)
  })
  // The server closes it before a byte of it is read; that would be known nowhere else.
  server.on('drop', () => note('connections are turned away: as many are open as may be'))
  // Each byte puts off the server's own end of a kept connection, and blank lines begin no request (RFC 9112, 2.2), so no other time-out either.
  const look = setInterval(() => {
    for (const line of lines.values()) {
      if (isUnderWay(line)) continue
      const most_ms = line.hasAsked ? server.keepAliveTimeout : server.headersTimeout
      if (performance.now() - line.since_ms < most_ms) continue
      // Half a header: who sends it should know what became of it.
      if (!line.hasAsked && line.socket.bytesRead > 0) line.socket.write(TOO_LATE)
      close(line)
    }
  }, look_every_ms)
  look.unref()
  app.addHook('onClose', async () => clearInterval(look))

  function makeRoom(newcomer: Line): void {
    const given = givesUp([...lines.values()], { newcomer, most })
    if (!given) return
    note(
      given === newcomer ? 'a connection was turned away: its address has more than its share' : 'all places were taken: one was given up',
    )
    close(given)
  }

  function close(line: Line): void {
    lines.delete(line.socket)
    line.socket.destroy()
  }

  function note(says: string): void {
    if (performance.now() - (noted.get(says) ?? Number.NEGATIVE_INFINITY) < NOTED_every_ms) return
    noted.set(says, performance.now())
    app.log.warn({ most }, says)
  }
})

/**
 * Who gives up a place. First who holds more than its share: the line of theirs that has been idle longest, or the one they come with now.
 * Else whichever has been idle longest; and where something is under way on all of them, the longest of who holds more than its share. Null
 * where nobody does: then the places are taken, and the next finds the door shut.
 */
function givesUp(lines: readonly Line[], at: { readonly newcomer: Line; readonly most: number }): Line | null {
  const held = new Map<string, number>()
  for (const { caller } of lines) held.set(caller, (held.get(caller) ?? 0) + 1)
  const isGreedy = ({ caller }: Line) => (held.get(caller) ?? 0) > at.most * SHARE
  const others = lines.filter((line) => line !== at.newcomer)
  const idle = others.filter((line) => !isUnderWay(line))
  const ofGreedy = longest(idle.filter(isGreedy))
  if (ofGreedy) return ofGreedy
  return isGreedy(at.newcomer) ? at.newcomer : (longest(idle) ?? longest(others.filter(isGreedy)))
}

function longest(lines: readonly Line[]): Line | null {
  return lines.reduce<Line | null>((found, line) => (found === null || line.since_ms < found.since_ms ? line : found), null)
}

/** A request that was answered before all of it had come is under way until it has. */
function isUnderWay(line: Line): boolean {
  if (line.open.size === 0) return false
  for (const [request, response] of line.open) if (response.closed && request.complete) line.open.delete(request)
  if (line.open.size === 0) line.since_ms = performance.now()
  return line.open.size > 0
}
