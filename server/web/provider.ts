/**
 * Signing in by a provider of identities: OpenID Connect's authorization code flow with PKCE (RFC 7636), state and nonce, and a signed
 * identity token. What is known of a provider is asked for at the first sign-in, and again where that failed.
 */
import { createHmac } from 'node:crypto'
import type { Configuration } from 'openid-client'

const TIMEOUT_s = 10
/** Read when somebody first signs in this way; most never do. */
const library = () => import('openid-client')

export type ProviderSettings = { readonly issuer: string; readonly clientId: string; readonly clientSecret: string | null }
/** Who the provider says it is. `email` only as the provider wrote it; `isVerified` only where it says so in so many words. */
export type Claims = {
  readonly issuer: string
  readonly subject: string
  readonly email: string | null
  readonly isVerified: boolean
  readonly label: string
}
/** The provider cannot be reached, or is set up wrongly: nobody's fault who signs in. */
export class ProviderAway extends Error {
  readonly statusCode = 503
}
/** Its answer does not stand: forged, for somebody else, of another try, too old, or it refused. */
export class AnswerRefused extends Error {
  readonly statusCode = 400
}

export type Provider = {
  /** where the browser goes; `secret` is this try's own, kept in that browser alone */
  readonly start: (given: { readonly secret: string; readonly returnTo: string }) => Promise<URL>
  /** what came back with the browser, held against the same secret */
  readonly finish: (given: { readonly secret: string; readonly cameBackTo: URL }) => Promise<Claims>
}

export function provider(settings: ProviderSettings): Provider {
  let known: Promise<Configuration> | null = null
  const configuration = () => {
    known ??= discovered(settings).catch((fault: unknown) => {
      known = null
      throw new ProviderAway(
        `The provider ${new URL(settings.issuer).host} cannot be asked at present (${reasonOf(fault)}). Sign in with your password.`,
      )
    })
    return known
  }
  return {
    start: async ({ secret, returnTo }) => {
      const oidc = await library()
      return oidc.buildAuthorizationUrl(await configuration(), {
        redirect_uri: returnTo,
        scope: 'openid email profile',
        code_challenge: await oidc.calculatePKCECodeChallenge(from(secret, 'verifier')),
        code_challenge_method: 'S256',
        state: from(secret, 'state'),
        nonce: from(secret, 'nonce'),
      })
    },
    finish: async ({ secret, cameBackTo }) => {
      const oidc = await library()
      const config = await configuration()
      const checks = {
        pkceCodeVerifier: from(secret, 'verifier'),
        expectedState: from(secret, 'state'),
        expectedNonce: from(secret, 'nonce'),
        idTokenExpected: true,
      }
      const tokens = await oidc.authorizationCodeGrant(config, cameBackTo, checks).catch((fault: unknown) => {
        if (isAway(fault)) throw new ProviderAway(`The provider ${new URL(settings.issuer).host} did not answer. Try again.`)
        throw new AnswerRefused(`What came back from the provider was not taken (${reasonOf(fault)}). Nothing was done: start again.`)
      })
      const claims = tokens.claims()
      if (claims === undefined) throw new AnswerRefused('The provider sent no identity token. Nothing was done.')
      const email = typeof claims.email === 'string' ? claims.email : null
      const label = [claims.preferred_username, email, claims.name].find((one) => typeof one === 'string' && one !== '')
      return {
        issuer: claims.iss,
        subject: claims.sub,
        email,
        isVerified: claims.email_verified === true,
        label: String(label ?? claims.sub).slice(0, 200),
      }
    },
  }
}

/** A provider may take the client's secret in the header, which is the rule where it says nothing, or in the form (OpenID Connect Core 9). */
async function discovered({ issuer, clientId, clientSecret }: ProviderSettings): Promise<Configuration> {
  const oidc = await library()
  const plain = new URL(issuer).protocol === 'http:' ? [oidc.allowInsecureRequests] : []
  const found = await oidc.discovery(new URL(issuer), clientId, undefined, undefined, { timeout: TIMEOUT_s, execute: plain })
  const server = found.serverMetadata()
  const ways = server.token_endpoint_auth_methods_supported ?? ['client_secret_basic']
  const authentication =
    clientSecret === null
      ? oidc.None()
      : ways.includes('client_secret_basic')
        ? oidc.ClientSecretBasic(clientSecret)
        : oidc.ClientSecretPost(clientSecret)
  const config = new oidc.Configuration(server, clientId, clientSecret === null ? {} : { client_secret: clientSecret }, authentication)
  config.timeout = TIMEOUT_s
  for (const set of plain) set(config)
  // The token's own signature is checked too, and not only the connection that it came by.
  oidc.enableNonRepudiationChecks(config)
  return config
}

/** State, nonce and verifier of one try, all from its secret. */
function from(secret: string, what: 'state' | 'nonce' | 'verifier'): string {
  return createHmac('sha256', secret).update(what).digest('base64url')
}

function isAway(fault: unknown): boolean {
  // The library keeps the fault's own name on some ways and puts a code of its own on others.
  const { name = '', message = '', code = '' } = fault as Error & { readonly code?: string }
  return ['TimeoutError', 'AbortError'].includes(name) || ['OAUTH_TIMEOUT', 'OAUTH_ABORT'].includes(code) || /fetch failed/.test(message)
}

/** In words that hold nothing of what was sent. */
function reasonOf(fault: unknown): string {
  const { code, message } = fault as { readonly code?: unknown; readonly message?: unknown }
  return `${typeof code === 'string' ? code : ''} ${typeof message === 'string' ? message : 'unknown'}`.trim().slice(0, 160)
}
