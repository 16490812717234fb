/** Settings of the two ways in that somebody else vouches for, both off unless set: a provider of identities (OpenID Connect), and a proxy's word. */
import { readFileSync } from 'node:fs'

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
type Environment = Readonly<Record<string, string | undefined>>

export const SIGN_IN_VARIABLES = [
  'LOOMBOOK_FORWARD_AUTH_HEADER',
  'LOOMBOOK_OIDC_ISSUER',
  'LOOMBOOK_OIDC_CLIENT_ID',
  'LOOMBOOK_OIDC_CLIENT_SECRET',
  'LOOMBOOK_OIDC_CLIENT_SECRET_FILE',
  'LOOMBOOK_OIDC_NAME',
  'LOOMBOOK_OIDC_LINK_BY_EMAIL',
] as const

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

/** What is set, and every fault in it. */
export function signInSettings(environment: Environment): { readonly settings: SignInSettings; readonly faults: readonly string[] } {
  const faults: string[] = []
  const provider = providerOf(environment, faults)
  const header = environment.LOOMBOOK_FORWARD_AUTH_HEADER?.toLowerCase()
  if (header !== undefined) {
    if (!/^[a-z][a-z0-9-]{0,60}$/.test(header) || header.startsWith('x-forwarded-') || NOT_FOR_NAMES.includes(header))
      faults.push(`LOOMBOOK_FORWARD_AUTH_HEADER is the name of a header that only the proxy sets, such as Remote-User, not "${header}".`)
    if (environment.LOOMBOOK_TRUSTED_PROXIES === undefined)
      faults.push('LOOMBOOK_FORWARD_AUTH_HEADER needs LOOMBOOK_TRUSTED_PROXIES: else anybody could name themselves.')
  }
  return { settings: { ...(provider && { provider }), ...(header !== undefined && { forwardAuthHeader: header }) }, faults }
}

/** Each with its value, the secret left out. */
export function shownSignIn(environment: Environment): readonly string[] {
  return SIGN_IN_VARIABLES.map((name) => {
    const value = environment[name]
    if (value === undefined) return `${name}=  (not set)`
    return `${name}=${name === 'LOOMBOOK_OIDC_CLIENT_SECRET' ? '(kept secret)' : value}`
  })
}

function providerOf(environment: Environment, faults: string[]): ProviderSettings | null {
  const { LOOMBOOK_OIDC_ISSUER: issuer, LOOMBOOK_OIDC_CLIENT_ID: clientId, LOOMBOOK_OIDC_LINK_BY_EMAIL: byEmail = 'no' } = environment
  const isAny = SIGN_IN_VARIABLES.some((name) => name.startsWith('LOOMBOOK_OIDC_') && environment[name] !== undefined)
  if (!isAny) return null
  if (issuer === undefined || clientId === undefined || clientId === '')
    faults.push('LOOMBOOK_OIDC_ISSUER and LOOMBOOK_OIDC_CLIENT_ID are needed for sign-in by a provider; one of them is missing.')
  if (issuer !== undefined && !isIssuer(issuer))
    faults.push(`LOOMBOOK_OIDC_ISSUER is an https address without ? or # (http only on this machine), not "${issuer}".`)
  if (byEmail !== 'yes' && byEmail !== 'no') faults.push(`LOOMBOOK_OIDC_LINK_BY_EMAIL is yes or no, not "${byEmail}".`)
  return {
    issuer: issuer ?? '',
    clientId: clientId ?? '',
    clientSecret: secretOf(environment, faults),
    name: environment.LOOMBOOK_OIDC_NAME?.slice(0, 60) || 'the provider',
    linksByEmail: byEmail === 'yes',
  }
}

function secretOf(environment: Environment, faults: string[]): string | null {
  const { LOOMBOOK_OIDC_CLIENT_SECRET: given, LOOMBOOK_OIDC_CLIENT_SECRET_FILE: file } = environment
  if (file === undefined) return given ?? null
  if (given !== undefined)
    faults.push('LOOMBOOK_OIDC_CLIENT_SECRET and LOOMBOOK_OIDC_CLIENT_SECRET_FILE are both given; one of them is enough.')
  try {
    return readFileSync(file, 'utf8').replace(/\r?\n$/, '')
  } catch (fault) {
    faults.push(
      `LOOMBOOK_OIDC_CLIENT_SECRET_FILE names "${file}", which cannot be read (${(fault as NodeJS.ErrnoException).code ?? 'unknown reason'}).`,
    )
    return null
  }
}

/** OpenID Connect Core 2: an https URL without query and fragment. Plain http stays on this machine. */
function isIssuer(text: string): boolean {
  if (!URL.canParse(text)) return false
  const { protocol, hostname, search, hash } = new URL(text)
  const isHere = ['localhost', '127.0.0.1', '[::1]'].includes(hostname)
  return search === '' && hash === '' && !/[?#]$/.test(text) && (protocol === 'https:' || (protocol === 'http:' && isHere))
}
