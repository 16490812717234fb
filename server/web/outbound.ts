/**
 * The one way that this server sends anything to another machine. A name is looked up once, every address it has is judged, and the
 * connection goes to a judged address: what the name says a moment later does not matter. Redirects are not followed.
 */
import { lookup as systemLookup } from 'node:dns'
import { request as plainRequest } from 'node:http'
import { request as secureRequest } from 'node:https'
import { BlockList, isIP, type LookupFunction } from 'node:net'

export type Message = { readonly url: string; readonly body: string; readonly headers: Readonly<Record<string, string>> }
/** `says` is for the owner to read: what was answered, or why nothing was. */
export type Sent = { readonly isTaken: boolean; readonly says: string }
export type Outbound = (message: Message) => Promise<Sent>
type Address = { readonly address: string; readonly family: number }
export type Resolve = (name: string) => Promise<readonly Address[]>
type Judge = (address: string) => string | null

const MOST_bytes = 64 * 1024
const SECONDS = 10

export function outbound(given: {
  readonly allowsPrivate: boolean
  readonly resolve?: Resolve
  readonly judge?: Judge
  readonly deadline_ms?: number
}): Outbound {
  const judge = given.judge ?? ((address: string) => faultOfAddress(address, given))
  const resolve = given.resolve ?? resolveHere
  const deadline_ms = given.deadline_ms ?? SECONDS * 1000
  return async (message) => {
    const fault = faultOfTarget(message.url, given, judge)
    if (fault !== null) return { isTaken: false, says: fault }
    return send(message, { lookup: judgedLookup(resolve, judge), deadline_ms })
  }
}

/** What is wrong with an address as it was typed, before anything is looked up; null where nothing is. */
export function faultOfTarget(
  text: string,
  given: { readonly allowsPrivate: boolean },
  judge: Judge = (address) => faultOfAddress(address, given),
): string | null {
  let url: URL
  try {
    url = new URL(text)
  } catch {
    return 'This is not a web address, such as https://hooks.example/loombook.'
  }
  if (url.protocol !== 'https:' && url.protocol !== 'http:') return 'Only addresses that begin with https:// or http:// are sent to.'
  if (url.username !== '' || url.password !== '') return 'Leave the name and the password out of the address.'
  // Numbers in every spelling (decimal, octal, hexadecimal, shortened) have become plain ones by now.
  const host = url.hostname.replace(/^\[|\]$/g, '')
  return isIP(host) === 0 ? null : judge(host)
}

/** Why nothing is sent to an address; null where it may be. */
export function faultOfAddress(address: string, given: { readonly allowsPrivate: boolean }): string | null {
  const family = isIP(address)
  if (family === 0) return `${address} is no address.`
  const type = family === 4 ? 'ipv4' : 'ipv6'
  if (family === 4 && !nowhere.check(address, type) && (given.allowsPrivate || !ownNetworks.check(address, type))) return null
  if (family === 6 && !nowhere.check(address, type) && given.allowsPrivate && ownNetworks.check(address, type)) return null
  if (family === 6 && global6.check(address, type) && !nowhere.check(address, type)) return null
  return `${address} is not on the public internet, so nothing is sent there.`
}

/** This machine, its own network, and networks behind a provider's one address. */
const ownNetworks = blocks({
  ipv4: ['10.0.0.0/8', '100.64.0.0/10', '127.0.0.0/8', '172.16.0.0/12', '192.168.0.0/16'],
  ipv6: ['::1/128', 'fc00::/7'],
})
/** Where hired machines are told their secrets: link-local, and four addresses more of the large hosts. Multicast, broadcast, tunnels, documentation, benchmarks, and what stands for no machine. */
const nowhere = blocks({
  ipv4: [
    ...['0.0.0.0/8', '169.254.0.0/16', '192.0.0.0/24', '192.0.2.0/24', '192.88.99.0/24', '198.18.0.0/15', '198.51.100.0/24'],
    ...['203.0.113.0/24', '224.0.0.0/4', '240.0.0.0/4', '168.63.129.16/32', '100.100.100.200/32'],
  ],
  ipv6: ['2001::/23', '2001:db8::/32', '2002::/16', '3fff::/20', 'fd00:ec2::254/128', 'fd20:ce::254/128'],
})
/** All that is given out of IPv6. What maps an IPv4 address lies outside. */
const global6 = blocks({ ipv4: [], ipv6: ['2000::/3'] })

function blocks(given: { readonly ipv4: readonly string[]; readonly ipv6: readonly string[] }): BlockList {
  const list = new BlockList()
  for (const type of ['ipv4', 'ipv6'] as const)
    for (const block of given[type]) {
      const [net = '', bits] = block.split('/')
      list.addSubnet(net, Number(bits), type)
    }
  return list
}

/** One address of a name that is refused refuses the name: a machine half inside is not a machine outside. */
function judgedLookup(resolve: Resolve, judge: Judge): LookupFunction {
  return (name, options, done) => {
    resolve(name).then(
      (found) => {
        const fault = found.map(({ address }) => judge(address)).find((one) => one !== null)
        const [first] = found
        if (fault !== undefined) return done(new Refused(fault), '')
        if (!first) return done(new Refused('This name has no address.'), '')
        return options.all === true ? done(null, [...found]) : done(null, first.address, first.family)
      },
      () => done(new Refused('This name has no address.'), ''),
    )
  }
}

function resolveHere(name: string): Promise<readonly Address[]> {
  return new Promise((found, failed) => {
    systemLookup(name, { all: true, verbatim: true }, (fault, addresses) => (fault ? failed(fault) : found(addresses)))
  })
}

class Refused extends Error {}

function send(message: Message, given: { readonly lookup: LookupFunction; readonly deadline_ms: number }): Promise<Sent> {
  return new Promise((settle) => {
    const url = new URL(message.url)
    const body = Buffer.from(message.body)
    const headers = { ...message.headers, 'content-type': 'application/json', 'content-length': String(body.length), connection: 'close' }
    const options = { method: 'POST', headers, agent: false, lookup: given.lookup, maxHeaderSize: 16 * 1024 } as const
    const request = url.protocol === 'https:' ? secureRequest(url, options) : plainRequest(url, options)
    // Once it has answered that counts: whoever dribbles the rest keeps nobody waiting past the deadline.
    let sent: Sent = { isTaken: false, says: `No answer within ${given.deadline_ms / 1000} s.` }
    const late = setTimeout(() => end(sent), given.deadline_ms)
    const end = (answered: Sent) => {
      clearTimeout(late)
      settle(answered)
      request.destroy()
    }
    request.on('error', (fault) => end({ isTaken: false, says: wordsOf(fault) }))
    request.on('response', (response) => {
      const status = response.statusCode ?? 0
      sent = { isTaken: status >= 200 && status < 300, says: answerWords(status) }
      let bytes = 0
      response.on('data', (piece: Buffer) => {
        bytes += piece.length
        if (bytes > MOST_bytes) end(sent)
      })
      response.on('end', () => end(sent))
      response.on('error', () => end(sent))
    })
    request.end(body)
  })
}

function answerWords(status: number): string {
  return status >= 300 && status < 400 ? `Answered ${status}: redirects are not followed.` : `Answered ${status}.`
}

function wordsOf(fault: Error & { code?: string }): string {
  if (fault instanceof Refused) return fault.message
  const known: Readonly<Record<string, string>> = {
    ECONNREFUSED: 'Nothing listens at this address.',
    ECONNRESET: 'The connection was cut.',
    EHOSTUNREACH: 'This address cannot be reached.',
    ENETUNREACH: 'This address cannot be reached.',
    ETIMEDOUT: 'This address cannot be reached.',
  }
  return known[fault.code ?? ''] ?? `Not sent (${(fault.code ?? 'the connection failed').slice(0, 60)}).`
}
