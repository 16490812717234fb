/** What the owner ticks before a link is made, read from a form or from the address of a preview, and written into one. */
import { plusDays } from '../../records/days.ts'
import { PRIVATE, type Private, type Shows } from '../../records/shares.ts'
import type { FormReader } from '../../web/form.ts'
import type { Preset } from './scope.ts'
import { ticked } from './scopes/index.ts'

export type HandOver = {
  readonly preset: Preset
  readonly recipient: string
  /** YYYY-MM-DD */
  readonly expiresOn: string
  readonly shows: Shows
}

export const PRESETS: readonly Preset[] = ['buyer', 'workshop']
export const PRESET_WORDS: Readonly<Record<Preset, string>> = { buyer: 'Buyer', workshop: 'Workshop' }
const LASTS_days: Readonly<Record<Preset, number>> = { buyer: 90, workshop: 30 }
const LAST_DAY = '9999-12-31'

/** A preset's own choice until ticks are sent with it; faults are left in the form. */
export function readHandOver(form: FormReader, given: { readonly today: string; readonly made: number }): HandOver {
  const preset = form.choice<Preset>('preset', PRESETS, 'buyer')
  const isTicked = form.typed('chosen') !== ''
  const ticks = <T extends string>(start: string, all: readonly T[]): T[] => all.filter((one) => form.ticked(`${start}-${one}`))
  const own = ticked.filter((one) => one.presets.includes(preset)).map(({ id }) => id)
  const pages = isTicked
    ? ticks(
        'page',
        ticked.map(({ id }) => id),
      )
    : own
  return {
    preset,
    recipient: isTicked ? form.text('recipient', { max: 80 }) : `${PRESET_WORDS[preset]} ${given.made + 1}`,
    expiresOn:
      isTicked && form.typed('expiresOn') !== '' ? form.date('expiresOn', { latest: LAST_DAY }) : plusDays(given.today, LASTS_days[preset]),
    shows: {
      v: 1,
      pages,
      lets: isTicked ? ticks<Private>('let', PRIVATE) : [],
      journalFrom: form.typed('from').trim() === '' ? null : form.date('from', { latest: given.today }),
      withoutPhotos: Object.keys(form.body).flatMap((name) =>
        /^without-[0-9a-f-]{36}$/.test(name) ? [name.slice('without-'.length)] : [],
      ),
    },
  }
}

/** The same ticks as the query of an address. */
export function queryOf({ preset, recipient, expiresOn, shows }: HandOver): URLSearchParams {
  return new URLSearchParams([
    ...[['preset', preset] as const, ['chosen', 'yes'] as const, ['recipient', recipient] as const, ['expiresOn', expiresOn] as const],
    ...shows.pages.map((one) => [`page-${one}`, 'yes'] as const),
    ...shows.lets.map((one) => [`let-${one}`, 'yes'] as const),
    ...(shows.journalFrom === null ? [] : [['from', shows.journalFrom] as const]),
    ...shows.withoutPhotos.map((one) => [`without-${one}`, 'yes'] as const),
  ] as [string, string][])
}
