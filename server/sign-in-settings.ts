/** The two ways in that somebody else vouches for, made of settings that were read: a provider of identities (OpenID Connect), a proxy's word. */
import { BlockList, isIPv6 } from 'node:net'

export type ProviderSettings = {
  readonly issuer: string
  readonly clientId: string
  readonly clientSecret: string | null
  /** what the button says: "Sign in with …" */
  readonly name: string
  /** an address that the provider has verified finds its person here by itself */
  readonly linksByEmail: boolean
}
export type SignInSettings = {
  readonly provider?: ProviderSettings
  /** the header, in lower case, in which a trusted proxy names who it let through */
  readonly forwardAuthHeader?: string
}
export type SignInValues = {
  readonly LOOMBOOK_FORWARD_AUTH_HEADER?: string
  readonly LOOMBOOK_OIDC_ISSUER?: string
  readonly LOOMBOOK_OIDC_CLIENT_ID?: string
  readonly LOOMBOOK_OIDC_CLIENT_SECRET?: string
  readonly LOOMBOOK_OIDC_NAME?: string
  readonly LOOMBOOK_OIDC_LINK_BY_EMAIL?: boolean
}
type Given = { readonly [name in keyof SignInValues]?: string } & { readonly LOOMBOOK_TRUSTED_PROXIES?: string }

/** Headers that mean something else, or that a browser sends by itself. */
const NOT_FOR_NAMES = [
  'host',
  'cookie',
  'authorization',
  'origin',
  'referer',
  'user-agent',
  'accept',
  'content-type',
  'content-length',
  'via',
]

/** Both off unless set. */
export function signInOf(read: SignInValues): SignInSettings {
  const { LOOMBOOK_OIDC_ISSUER: issuer, LOOMBOOK_OIDC_CLIENT_ID: clientId, LOOMBOOK_FORWARD_AUTH_HEADER: header } = read
  const provider = issuer !== undefined &&
    clientId !== undefined && {
      issuer,
      clientId,
      clientSecret: read.LOOMBOOK_OIDC_CLIENT_SECRET ?? null,
      name: read.LOOMBOOK_OIDC_NAME ?? 'the provider',
      linksByEmail: read.LOOMBOOK_OIDC_LINK_BY_EMAIL ?? false,
    }
  return { ...(provider && { provider }), ...(header !== undefined && { forwardAuthHeader: header }) }
}

/** What is missing beside what was given. `proxies` are those of LOOMBOOK_TRUSTED_PROXIES, where that could be read. */
export function signInFaults(given: Given, proxies: readonly string[] | undefined): readonly string[] {
  const faults: string[] = []
  const isAny = Object.entries(given).some(([name, text]) => name.startsWith('LOOMBOOK_OIDC_') && text !== undefined)
  if (isAny && (given.LOOMBOOK_OIDC_ISSUER === undefined || given.LOOMBOOK_OIDC_CLIENT_ID === undefined))
    faults.push('LOOMBOOK_OIDC_ISSUER and LOOMBOOK_OIDC_CLIENT_ID are needed for sign-in by a provider; one of them is missing.')
  if (given.LOOMBOOK_FORWARD_AUTH_HEADER !== undefined) faults.push(...proxyFaults(given.LOOMBOOK_TRUSTED_PROXIES, proxies))
  return faults
}

/** Whoever counts as the proxy may name anybody, the owner too: so it is to be said who that is, and it is not to be everybody. */
function proxyFaults(given: string | undefined, proxies: readonly string[] | undefined): readonly string[] {
  if (given === undefined || proxies?.length === 0)
    return ['LOOMBOOK_FORWARD_AUTH_HEADER needs LOOMBOOK_TRUSTED_PROXIES: else anybody could name themselves.']
  const wide = proxies?.filter(isWide) ?? []
  return wide.map(
    (one) =>
      `LOOMBOOK_TRUSTED_PROXIES holds "${one}", more than any network of one’s own, and with LOOMBOOK_FORWARD_AUTH_HEADER each address in it could name itself the owner: name the proxy’s own address.`,
  )
}

/** IPv4 as IPv6 writes it: RFC 4291, 2.5.5.2. */
const MAPPED = subnet('::ffff:0:0', 96)

/** Wider than the widest network that is somebody's own: 10.0.0.0/8 (RFC 1918, 3), fc00::/7 (RFC 4193, 3.1). */
function isWide(network: string): boolean {
  const [address = '', prefix] = network.split('/')
  if (prefix === undefined) return false
  const bits = Number(prefix)
  if (!isIPv6(address)) return bits < 8
  if (bits > 96) return bits < 96 + 8 && MAPPED.check(address, 'ipv6')
  return bits < 7 || subnet(address, bits).check('::ffff:0:0', 'ipv6')
}

function subnet(address: string, bits: number): BlockList {
  const list = new BlockList()
  list.addSubnet(address, bits, 'ipv6')
  return list
}

/** A header that can carry a name, and that only the proxy sets. */
export function isNameHeader(text: string): boolean {
  const header = text.toLowerCase()
  return /^[a-z][a-z0-9-]{0,60}$/.test(header) && !header.startsWith('x-forwarded-') && !NOT_FOR_NAMES.includes(header)
}

/** OpenID Connect Core 2: an https URL without query and fragment. Plain http stays on this machine. */
export function isIssuer(text: string): boolean {
  if (!URL.canParse(text)) return false
  const { protocol, hostname, search, hash } = new URL(text)
  const isHere = ['localhost', '127.0.0.1', '[::1]'].includes(hostname)
  return search === '' && hash === '' && !/[?#]$/.test(text) && (protocol === 'https:' || (protocol === 'http:' && isHere))
}
