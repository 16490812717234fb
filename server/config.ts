/** Configuration from the environment (LOOMBOOK_*), read once and frozen; every fault is named. */
import { homedir } from 'node:os'
import { join } from 'node:path'
import { SIGN_IN_VARIABLES, type SignInSettings, signInSettings } from './sign-in-settings.ts'

export type Config = {
  readonly data: string
  readonly host: string
  readonly port: number
  readonly timeZone: string
  /** webhooks may go to this machine and its own network; link-local and the like stay refused */
  readonly allowPrivateTargets?: boolean
  /** where backups are kept, if not under the data directory */
  readonly backups?: string
  /** where people reach it, without a slash at the end: links that leave the house start with it */
  readonly baseUrl?: string | undefined
  /** the folder of the site that it is under, such as /garage; nothing where it has a name of its own */
  readonly basePath?: string | undefined
  /** whose word on the caller's address, scheme and host is taken */
  readonly trustedProxies?: Networks | undefined
} & SignInSettings

/** Addresses and networks, as they were given. */
export type Networks = { readonly list: readonly string[]; readonly holds: (address: string) => boolean }

/** The configuration, or every variable that is wrong. */
export function readConfig(
  environment: Readonly<Record<string, string | undefined>>,
): { readonly ok: true; readonly config: Config } | { readonly ok: false; readonly faults: readonly string[] } {
  const faults: string[] = []
  const port = environment.LOOMBOOK_PORT === undefined ? 8180 : Number(environment.LOOMBOOK_PORT)
  if (!Number.isInteger(port) || port < 0 || port > 65535)
    faults.push(`LOOMBOOK_PORT is a whole number from 0 to 65535, not "${environment.LOOMBOOK_PORT}".`)
  const timeZone = environment.LOOMBOOK_TIME_ZONE ?? Intl.DateTimeFormat().resolvedOptions().timeZone
  try {
    new Intl.DateTimeFormat('en', { timeZone })
  } catch {
    faults.push(`LOOMBOOK_TIME_ZONE "${timeZone}" is no time zone known here.`)
  }
  const privateTargets = environment.LOOMBOOK_ALLOW_PRIVATE_TARGETS ?? 'no'
  if (privateTargets !== 'yes' && privateTargets !== 'no')
    faults.push(`LOOMBOOK_ALLOW_PRIVATE_TARGETS is yes or no, not "${privateTargets}".`)
  const known: readonly string[] = [
    'LOOMBOOK_ALLOW_PRIVATE_TARGETS',
    'LOOMBOOK_BACKUPS',
    'LOOMBOOK_DATA',
    'LOOMBOOK_HOST',
    'LOOMBOOK_PORT',
    'LOOMBOOK_TIME_ZONE',
    ...SIGN_IN_VARIABLES,
  ]
  for (const name of Object.keys(environment))
    if (name.startsWith('LOOMBOOK_') && !known.includes(name)) faults.push(`${name} is not a setting; known are ${known.join(', ')}.`)
  const signIn = signInSettings(environment)
  faults.push(...signIn.faults)
  if (faults.length > 0) return { ok: false, faults }
  const share = environment.XDG_DATA_HOME ?? join(homedir(), '.local', 'share')
  return {
    ok: true,
    config: Object.freeze({
      data: environment.LOOMBOOK_DATA ?? join(share, 'loombook'),
      host: environment.LOOMBOOK_HOST ?? '127.0.0.1',
      port,
      timeZone,
      allowPrivateTargets: privateTargets === 'yes',
      ...(environment.LOOMBOOK_BACKUPS === undefined ? {} : { backups: environment.LOOMBOOK_BACKUPS }),
      ...signIn.settings,
    }),
  }
}

export function backupsOf(config: Config): string {
  return config.backups ?? join(config.data, 'backups')
}
