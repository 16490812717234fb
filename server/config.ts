/** Configuration from the environment (LOOMBOOK_*), read once and frozen; every fault is named at once. */
import { readFileSync } from 'node:fs'
import { BlockList, isIP, isIPv6 } from 'node:net'
import { homedir } from 'node:os'
import { join } from 'node:path'
import { z } from 'zod'
import { isIssuer, isNameHeader, type SignInSettings, signInFaults, signInOf } from './sign-in-settings.ts'

export type Config = {
  readonly data: string
  readonly host: string
  readonly port: number
  readonly timeZone: string
  /** webhooks may go to this machine and its own network; link-local and the like stay refused */
  readonly allowPrivateTargets?: boolean | undefined
  /** where backups are kept, if not under the data directory */
  readonly backups?: string | undefined
  /** where people reach it, without a slash at the end: links that leave the house start with it */
  readonly baseUrl?: string | undefined
  /** the folder of the site that it is under, such as /garage; nothing where it has a name of its own */
  readonly basePath?: string | undefined
  /** the names it answers to; any, where nothing is said */
  readonly hosts?: readonly string[] | undefined
  /** whose word on the caller's address, scheme and host is taken */
  readonly trustedProxies?: Networks | undefined
  /** measures are told at /metrics, to these networks and to who shows the token */
  readonly metrics?: { readonly networks: Networks | null; readonly token: string | null } | undefined
  readonly logLevel?: LogLevel | undefined
  /** the records may lie on a file system of another machine, at the owner's own risk */
  readonly allowNetworkFileSystem?: boolean | undefined
} & SignInSettings

/** Addresses and networks, as they were given. */
export type Networks = { readonly list: readonly string[]; readonly holds: (address: string) => boolean }
export type LogLevel = (typeof LEVELS)[number]
export type Environment = Readonly<Record<string, string | undefined>>
/** What the machine itself has to bear out, as far as the settings for it could be read. */
export type Places = { readonly host: string | null; readonly port: number; readonly backups: string | undefined }
export type Read = {
  /** also beside faults: a slip of a name is often why something is missing */
  readonly warnings: readonly string[]
  readonly places: Places
} & (
  | {
      readonly ok: true
      readonly config: Config
      /** every setting with its value, secrets left out */
      readonly shown: readonly string[]
    }
  | { readonly ok: false; readonly faults: readonly string[] }
)

const LEVELS = ['silent', 'fatal', 'error', 'warn', 'info', 'debug'] as const
const LEAST_TOKEN_characters = 20
const USUAL_HOST = '127.0.0.1'
const USUAL_PORT = 8180

const yesOrNo = z.enum(['yes', 'no'], 'is yes or no').transform((word) => word === 'yes')
const path = z.string().min(1, 'is a folder')
/** In the order in which they are printed. */
const SETTINGS = {
  LOOMBOOK_DATA: path,
  LOOMBOOK_BACKUPS: path,
  LOOMBOOK_HOST: z.string().refine(isHostToListenOn, 'is an address to listen on, such as 127.0.0.1 or 0.0.0.0'),
  LOOMBOOK_PORT: z
    .string()
    .regex(/^\d{1,5}$/, 'is a whole number from 0 to 65535')
    .transform(Number)
    .refine((port) => port <= 65_535, 'is a whole number from 0 to 65535'),
  LOOMBOOK_TIME_ZONE: z.string().refine(isTimeZone, 'is a time zone known here, such as Europe/Lisbon'),
  LOOMBOOK_BASE_URL: z
    .string()
    .refine(isSiteUrl, 'is the address people use, such as https://garage.example/loombook: http or https, and nothing after the path')
    .transform((url) => url.replace(/\/+$/, '')),
  LOOMBOOK_BASE_PATH: z
    .string()
    .regex(/^(\/(?!\.)[\w.~-]+)*\/?$/, 'is a path such as /garage')
    .transform((text) => text.replace(/\/$/, '')),
  LOOMBOOK_ALLOWED_HOSTS: z
    .string()
    .transform(words)
    .refine((list) => list.length > 0 && list.every(isHost), 'is a list of host names, each with its port unless that is the usual one'),
  LOOMBOOK_TRUSTED_PROXIES: networksOf(),
  LOOMBOOK_METRICS: yesOrNo,
  LOOMBOOK_METRICS_NETWORKS: networksOf(),
  LOOMBOOK_METRICS_TOKEN: z.string().min(LEAST_TOKEN_characters, `has at least ${LEAST_TOKEN_characters} characters`),
  LOOMBOOK_LOG_LEVEL: z.enum(LEVELS, `is one of ${LEVELS.join(', ')}`),
  LOOMBOOK_ALLOW_PRIVATE_TARGETS: yesOrNo,
  LOOMBOOK_ALLOW_NETWORK_FILE_SYSTEM: yesOrNo,
  LOOMBOOK_FORWARD_AUTH_HEADER: z
    .string()
    .refine(isNameHeader, 'is the name of a header that only the proxy sets, such as Remote-User')
    .transform((name) => name.toLowerCase()),
  LOOMBOOK_OIDC_ISSUER: z.string().refine(isIssuer, 'is an https address without ? or # (http only on this machine)'),
  LOOMBOOK_OIDC_CLIENT_ID: z.string().regex(/\S/, 'is what the provider calls this server'),
  LOOMBOOK_OIDC_CLIENT_SECRET: z.string().regex(/\S/, 'is blank: a provider that gives no secret needs none set'),
  LOOMBOOK_OIDC_NAME: z.string().regex(/^(?=.*\S).{1,60}$/, 'is what the button says, in at most 60 characters'),
  LOOMBOOK_OIDC_LINK_BY_EMAIL: yesOrNo,
} as const
type Name = keyof typeof SETTINGS
type Values = { readonly [name in Name]?: z.output<(typeof SETTINGS)[name]> }

/** Never printed; each may also be the content of the file that its name with _FILE names. */
const SECRET: readonly Name[] = ['LOOMBOOK_METRICS_TOKEN', 'LOOMBOOK_OIDC_CLIENT_SECRET']
const NAMES = Object.keys(SETTINGS) as readonly Name[]

/** The configuration, or every variable that is wrong. A variable of ours that is not known is warned of: it may be a slip. */
export function readConfig(environment: Environment): Read {
  const { given, faults } = withFiles(environment)
  const values: Record<string, unknown> = {}
  for (const name of NAMES) {
    const text = given[name]
    if (text === undefined) continue
    const parsed = SETTINGS[name].safeParse(text)
    if (parsed.success) values[name] = parsed.data
    else faults.push(`${name} ${parsed.error.issues[0]?.message}${SECRET.includes(name) ? '' : `, not "${text}"`}.`)
  }
  const read = values as Values
  const data = read.LOOMBOOK_DATA ?? usualData(environment)
  faults.push(...faultsBetween(read), ...signInFaults(given, read.LOOMBOOK_TRUSTED_PROXIES?.list))
  if (data === null && environment.LOOMBOOK_DATA === undefined)
    faults.push('LOOMBOOK_DATA is not set, and this user has no home directory that it could be in: say where records are kept.')
  const told = { warnings: warningsOf(environment), places: placesOf(given, read) }
  if (faults.length > 0 || data === null) return { ok: false, faults, ...told }
  const config = configOf(read, data)
  return { ok: true, config, shown: shown(read, config), ...told }
}

export function backupsOf(config: Config): string {
  return config.backups ?? join(config.data, 'backups')
}

/** Addresses and networks of a list; throws what is wrong with one of them. */
export function networks(list: readonly string[]): Networks {
  const block = new BlockList()
  for (const one of list) {
    const [address = '', prefix, ...more] = one.split('/')
    const family = isIPv6(address) ? 'ipv6' : 'ipv4'
    const bits = prefix === undefined ? (family === 'ipv6' ? 128 : 32) : Number(prefix)
    if (
      isIP(address) === 0 ||
      more.length > 0 ||
      prefix === '' ||
      !Number.isInteger(bits) ||
      bits < 0 ||
      bits > (family === 'ipv6' ? 128 : 32)
    )
      throw new Error(`"${one}" is no address and no network`)
    block.addSubnet(address, bits, family)
  }
  return { list, holds: (address) => isIP(address) !== 0 && block.check(address, isIPv6(address) ? 'ipv6' : 'ipv4') }
}

/** What was given, with the content of files in the place of their names. */
function withFiles(environment: Environment): { readonly given: Readonly<Partial<Record<Name, string>>>; readonly faults: string[] } {
  const faults: string[] = []
  const given: Partial<Record<Name, string>> = {}
  for (const name of NAMES) if (environment[name] !== undefined) given[name] = environment[name]
  for (const name of SECRET) {
    const file = environment[`${name}_FILE`]
    if (file === undefined) continue
    if (given[name] !== undefined) faults.push(`${name} and ${name}_FILE are both given; one of them is enough.`)
    try {
      given[name] = readFileSync(file, 'utf8').replace(/\r?\n$/, '')
    } catch (fault) {
      faults.push(`${name}_FILE names "${file}", which cannot be read (${(fault as NodeJS.ErrnoException).code ?? 'unknown reason'}).`)
    }
  }
  return { given, faults }
}

function faultsBetween(read: Values): string[] {
  const faults: string[] = []
  const inUrl = read.LOOMBOOK_BASE_URL && new URL(read.LOOMBOOK_BASE_URL).pathname.replace(/\/$/, '')
  if (inUrl !== undefined && read.LOOMBOOK_BASE_PATH !== undefined && inUrl !== read.LOOMBOOK_BASE_PATH)
    faults.push(`LOOMBOOK_BASE_URL ends in the path "${inUrl}" and LOOMBOOK_BASE_PATH says "${read.LOOMBOOK_BASE_PATH}": they must agree.`)
  if (read.LOOMBOOK_METRICS && read.LOOMBOOK_METRICS_NETWORKS === undefined && read.LOOMBOOK_METRICS_TOKEN === undefined)
    faults.push('LOOMBOOK_METRICS is yes, but nobody may read them: say who by LOOMBOOK_METRICS_NETWORKS or LOOMBOOK_METRICS_TOKEN.')
  return faults
}

/** Below the home directory; null where there is none, as for a user who is only a number. */
function usualData(environment: Environment): string | null {
  if (environment.XDG_DATA_HOME !== undefined) return join(environment.XDG_DATA_HOME, 'loombook')
  try {
    return join(homedir(), '.local', 'share', 'loombook')
  } catch {
    return null
  }
}

/** A host that was refused already is not asked for; beside a port that was, any free one shows what is wrong with the host. */
function placesOf(given: Readonly<Partial<Record<Name, string>>>, read: Values): Places {
  const host = given.LOOMBOOK_HOST === undefined ? USUAL_HOST : (read.LOOMBOOK_HOST ?? null)
  const port = given.LOOMBOOK_PORT === undefined ? USUAL_PORT : (read.LOOMBOOK_PORT ?? 0)
  return { host, port, backups: read.LOOMBOOK_BACKUPS }
}

function configOf(read: Values, data: string): Config {
  const baseUrl = read.LOOMBOOK_BASE_URL
  return Object.freeze({
    data,
    host: read.LOOMBOOK_HOST ?? USUAL_HOST,
    port: read.LOOMBOOK_PORT ?? USUAL_PORT,
    timeZone: read.LOOMBOOK_TIME_ZONE ?? Intl.DateTimeFormat().resolvedOptions().timeZone,
    allowPrivateTargets: read.LOOMBOOK_ALLOW_PRIVATE_TARGETS ?? false,
    backups: read.LOOMBOOK_BACKUPS,
    baseUrl,
    basePath: read.LOOMBOOK_BASE_PATH ?? (baseUrl === undefined ? '' : new URL(baseUrl).pathname.replace(/\/$/, '')),
    hosts: read.LOOMBOOK_ALLOWED_HOSTS && [...(baseUrl === undefined ? [] : [new URL(baseUrl).host]), ...read.LOOMBOOK_ALLOWED_HOSTS],
    trustedProxies: read.LOOMBOOK_TRUSTED_PROXIES,
    metrics: read.LOOMBOOK_METRICS
      ? { networks: read.LOOMBOOK_METRICS_NETWORKS ?? null, token: read.LOOMBOOK_METRICS_TOKEN ?? null }
      : undefined,
    logLevel: read.LOOMBOOK_LOG_LEVEL,
    allowNetworkFileSystem: read.LOOMBOOK_ALLOW_NETWORK_FILE_SYSTEM ?? false,
    ...signInOf(read),
  })
}

function warningsOf(environment: Environment): readonly string[] {
  const known = new Set<string>([...NAMES, ...SECRET.map((name) => `${name}_FILE`)])
  const strange = Object.keys(environment).filter((name) => name.startsWith('LOOMBOOK_') && !known.has(name))
  return strange.map((name) => `${name} is not a setting, so it does nothing; known are ${[...known].join(', ')}.`)
}

function shown(read: Values, config: Config): readonly string[] {
  const inForce: Partial<Record<Name, string | number>> = {
    LOOMBOOK_DATA: config.data,
    LOOMBOOK_BACKUPS: backupsOf(config),
    LOOMBOOK_HOST: config.host,
    LOOMBOOK_PORT: config.port,
    LOOMBOOK_TIME_ZONE: config.timeZone,
    LOOMBOOK_BASE_PATH: config.basePath ?? '',
  }
  return NAMES.map((name) => {
    const value = SECRET.includes(name) && read[name] !== undefined ? '(kept secret)' : (inForce[name] ?? read[name])
    return `${name}=${value === undefined ? '' : words(value)}${read[name] === undefined ? '  (not set)' : ''}`
  })
  function words(value: unknown): string {
    if (typeof value === 'boolean') return value ? 'yes' : 'no'
    if (typeof value === 'object') return (Array.isArray(value) ? value : (value as Networks).list).join(', ')
    return String(value)
  }
}

function networksOf() {
  return z
    .string()
    .transform(words)
    .transform((list, context) => {
      try {
        return networks(list)
      } catch (fault) {
        context.addIssue(`is a list of addresses and networks such as 10.0.0.0/8 (${(fault as Error).message})`)
        return z.NEVER
      }
    })
}

function words(text: string): readonly string[] {
  return text.split(/[\s,]+/).filter((word) => word !== '')
}

/** A name, or an address that is one: what looks like an address (inet_aton(3) takes `1.2.3` too) is not asked for as a name. */
function isHostToListenOn(text: string): boolean {
  if (!/^[\w.:-]+$/.test(text)) return false
  return isIP(text) !== 0 || !(text.includes(':') || /^[\d.]+$/.test(text))
}

function isTimeZone(text: string): boolean {
  try {
    new Intl.DateTimeFormat('en', { timeZone: text })
    return text !== ''
  } catch {
    return false
  }
}

function isSiteUrl(text: string): boolean {
  if (!URL.canParse(text)) return false
  const url = new URL(text)
  const isPlain = url.username === '' && url.password === '' && !/[?#]/.test(text)
  return ['http:', 'https:'].includes(url.protocol) && isPlain && /^(\/(?!\.)[\w.~-]+)*\/?$/.test(url.pathname)
}

function isHost(text: string): boolean {
  return URL.canParse(`http://${text}`) && new URL(`http://${text}`).host === text.toLowerCase()
}
