import type { TokenFacts } from '../../records/api-tokens.ts'
import type { Backup } from '../../records/backup.ts'
import type { Feed } from '../../records/feeds.ts'
import { isStale, type Job, type JobFacts } from '../../records/jobs.ts'
import type { SecurityEvent, SecurityKind } from '../../records/security-log.ts'
import type { HouseholdSession } from '../../records/sessions-of-all.ts'
import type { Storage } from '../../records/storage.ts'
import type { WebhookFacts } from '../../records/webhooks.ts'
import { instantWords } from '../../web/format.ts'

type Row = { readonly what: string; readonly size: string; readonly note: string }
export type View = {
  readonly troubles: readonly string[]
  readonly storage: readonly Row[]
  readonly jobs: readonly { readonly title: string; readonly last: string; readonly took: string; readonly says: string }[]
  readonly sessions: readonly { readonly person: string; readonly where: string; readonly began: string; readonly used: string }[]
  readonly open: readonly { readonly what: string; readonly note: string; readonly href: string; readonly label: string }[]
  readonly security: string
}

const DAY_ms = 86_400_000
const WATCHED_days = 7
/** At this the disk is nearly full, whatever its size. */
const LITTLE_bytes = 1e9
const REFUSALS: readonly SecurityKind[] = ['sign-in-refused', 'sign-in-held-back', 'write-refused', 'forward-auth-ignored']

export function view(given: {
  readonly storage: Storage
  readonly backups: readonly Backup[]
  readonly jobs: readonly { readonly job: Job; readonly last: JobFacts | undefined }[]
  readonly sessions: readonly HouseholdSession[]
  readonly tokens: readonly TokenFacts[]
  readonly feeds: readonly Feed[]
  readonly webhooks: readonly WebhookFacts[]
  readonly events: readonly SecurityEvent[]
  readonly troubles: readonly string[]
  readonly now: Date
  readonly timeZone: string
}): View {
  const when = (instant: string) => instantWords(instant, given.timeZone)
  return {
    troubles: [
      ...given.troubles.map((one) => `${one.charAt(0).toUpperCase()}${one.slice(1)}${one.endsWith('.') ? '' : '.'}`),
      ...(given.storage.free_bytes < LITTLE_bytes ? [`Only ${sizeWords(given.storage.free_bytes)} are free on the disk.`] : []),
    ],
    storage: storageRows(given.storage, given.backups),
    jobs: given.jobs.map(({ job, last }) => ({
      title: job.title,
      last: last
        ? `${when(last.startedAt)}${job.every === 'night' && isStale(last, given.now) ? ', late' : ''}`
        : `not yet; every ${job.every}`,
      took: last?.endedAt ? durationWords(Date.parse(last.endedAt) - Date.parse(last.startedAt)) : '–',
      says: !last ? '–' : last.result === null ? 'running, or cut off' : last.result === 'failed' ? `failed: ${last.says}` : last.says,
    })),
    sessions: given.sessions.map((one) => ({
      person: one.person,
      where: [one.device.slice(0, 120) || 'an unnamed browser', one.address].filter((text) => text !== '').join(', from '),
      began: when(one.startedAt),
      used: when(one.lastUsedAt),
    })),
    open: openDoors(given, when),
    security: securityWords(given.events, given.now),
  }
}

function storageRows(storage: Storage, backups: readonly Backup[]): readonly Row[] {
  const inBackups = backups.reduce((sum, one) => sum + one.bytes, 0)
  return [
    { what: 'Records', size: sizeWords(storage.database_bytes), note: 'the database' },
    { what: 'Log of writes', size: sizeWords(storage.log_bytes), note: 'folded into the database every hour' },
    { what: 'Photos and papers', size: sizeWords(storage.originals_bytes), note: counted(storage.originals, 'original') },
    { what: 'Thumbnails', size: sizeWords(storage.thumbnails_bytes), note: 'made again when they are missing' },
    { what: 'Copies from before upgrades', size: sizeWords(storage.upgrades_bytes), note: counted(storage.upgrades, 'file') },
    { what: 'Backups', size: sizeWords(inBackups), note: counted(backups.length, 'backup') },
    { what: 'Free', size: sizeWords(storage.free_bytes), note: 'on the disk that holds the records' },
  ]
}

/** Ways in and out besides people who sign in. */
function openDoors(
  given: { readonly tokens: readonly TokenFacts[]; readonly feeds: readonly Feed[]; readonly webhooks: readonly WebhookFacts[] },
  when: (instant: string) => string,
): View['open'] {
  const used = (all: readonly { readonly lastUsedAt: string | null }[]) => {
    const last = all
      .map((one) => one.lastUsedAt ?? '')
      .sort()
      .at(-1)
    return last ? `, last used ${when(last)}` : all.length > 0 ? ', never used' : ''
  }
  const hooks = given.webhooks.filter((one) => !one.isRevoked)
  const waiting = hooks.reduce((sum, one) => sum + one.waiting, 0)
  return [
    { what: 'Tokens of programs', note: `${given.tokens.length} open${used(given.tokens)}`, href: '/tokens', label: 'Tokens' },
    { what: 'Feeds by address', note: `${given.feeds.length} open${used(given.feeds)}`, href: '/feeds', label: 'Feeds' },
    {
      what: 'Webhooks',
      note: `${hooks.length} open${waiting > 0 ? `, ${counted(waiting, 'message')} waiting to be sent` : ''}`,
      href: '/webhooks',
      label: 'Webhooks',
    },
  ]
}

function securityWords(events: readonly SecurityEvent[], now: Date): string {
  const lately = events.filter((one) => now.getTime() - Date.parse(one.recordedAt) <= WATCHED_days * DAY_ms)
  const refused = lately.filter((one) => REFUSALS.includes(one.kind)).length
  return `In the last ${WATCHED_days} days: ${counted(lately.length, 'event')}, ${refused === 0 ? 'none' : refused} of them refused.`
}

/** "12.3 MB", "4.0 GB", in thousands as disks are sold. */
export function sizeWords(bytes: number): string {
  if (bytes < 1e6) return `${Math.ceil(bytes / 1e3)} kB`
  return bytes < 1e9 ? `${(bytes / 1e6).toFixed(1)} MB` : `${(bytes / 1e9).toFixed(1)} GB`
}

function durationWords(ms: number): string {
  if (ms < 0) return 'the clock was changed'
  if (ms < 1000) return 'less than a second'
  const s = Math.round(ms / 1000)
  return s < 120 ? counted(s, 'second') : counted(Math.round(s / 60), 'minute')
}

function counted(count: number, word: string): string {
  return `${count} ${word}${count === 1 ? '' : 's'}`
}
