/** Every kind of page that a person asks for, the pictures beside them, what programs ask, and what is written. */
import { join } from 'node:path'
import Database from 'better-sqlite3'
import sharp from 'sharp'

/** What there is to ask for, as the records name it. */
export type Named = {
  readonly vehicles: readonly string[]
  readonly entries: readonly string[]
  readonly photos: readonly string[]
  readonly parts: readonly string[]
  readonly fuses: readonly string[]
}
type Sort = 'page' | 'picture' | 'program' | 'save'
export type Kind = {
  readonly name: string
  readonly sort: Sort
  /** how often in a round of all kinds */
  readonly times: number
  readonly needs: 'anybody' | 'owner' | 'program'
  readonly ask: (pick: Pick, given: { readonly token: string; readonly once: string }) => Promise<Asked> | Asked
}
export type Asked = { readonly path: string; readonly status: number; readonly how?: RequestInit; readonly saves?: 'entry' | 'photo' }
type Pick = {
  readonly one: (all: readonly string[]) => string
  readonly number: (below: number) => number
}

export function namedIn(data: string): Named {
  const client = new Database(join(data, 'loombook.sqlite'), { readonly: true })
  try {
    const ids = (sql: string) => client.prepare(sql).pluck().all() as string[]
    return {
      vehicles: ids('SELECT id FROM vehicles'),
      entries: ids(
        'SELECT id FROM entries e WHERE corrects_id IS NULL AND NOT EXISTS (SELECT 1 FROM entries c WHERE c.corrects_id = e.id)',
      ),
      photos: ids('SELECT id FROM photos'),
      parts: ids('SELECT id FROM parts'),
      fuses: ids("SELECT id FROM parts WHERE kind = 'fuse'"),
    }
  } finally {
    client.close()
  }
}

export function kindsOfRequest(named: Named, today: string): readonly Kind[] {
  const { vehicles, entries, photos, parts, fuses } = named
  const vehicle = (pick: Pick) => `/vehicles/${pick.one(vehicles)}`
  const branch = (pick: Pick) => `f${1 + pick.number(BRANCHES)}`
  const component = (pick: Pick) => `${vehicle(pick)}/components/${branch(pick)}`
  const day = (pick: Pick) => `${Number(today.slice(0, 4)) - 1 - pick.number(YEARS_back)}-0${1 + pick.number(9)}-05`
  const word = (pick: Pick) => encodeURIComponent(pick.one(WORDS))
  const pages: Readonly<Record<string, (pick: Pick) => string>> = {
    vehicles: () => '/',
    vehicle,
    'vehicle, as of': (pick) => `${vehicle(pick)}?on=${day(pick)}`,
    journal: (pick) => `${vehicle(pick)}/journal?page=${1 + pick.number(10)}`,
    'journal, find': (pick) => `${vehicle(pick)}/journal?contains=film`,
    entry: (pick) => `/entries/${pick.one(entries)}`,
    correction: (pick) => `/entries/${pick.one(entries)}/correction`,
    search: (pick) => `/search?q=${word(pick)}`,
    'search in a vehicle': (pick) => `/search?q=${word(pick)}&vehicle=${pick.one(vehicles)}`,
    'go to a component': () => '/?find=F3',
    components: (pick) => `${vehicle(pick)}/components`,
    branch: component,
    'branch, as of': (pick) => `${component(pick)}?on=${day(pick)}`,
    life: (pick) => `${component(pick)}/life`,
    marks: (pick) => `${vehicle(pick)}/components/wire-${1 + pick.number(BRANCHES)}/marks`,
    insert: (pick) => `${component(pick)}/insert`,
    chain: (pick) => `${component(pick)}/chain`,
    findings: (pick) => `${vehicle(pick)}/findings`,
    finding: (pick) => `${vehicle(pick)}/findings/fuse-load/${branch(pick)}`,
    compare: (pick) => `${vehicle(pick)}/compare?from=${day(pick)}&to=${today}`,
    'fuse box': (pick) => `${vehicle(pick)}/fuse-box`,
    'fuse chart': (pick) => `${vehicle(pick)}/fuse-box/block/chart`,
    'fuse chart, printed': (pick) => `${vehicle(pick)}/fuse-box/block/chart.pdf`,
    labels: (pick) => `${vehicle(pick)}/labels`,
    'cut list': (pick) => `${vehicle(pick)}/cut-list`,
    'wiring drawing': (pick) => `${vehicle(pick)}/wiring-drawing`,
    'current picture': (pick) => `${vehicle(pick)}/current-picture`,
    identity: (pick) => `${vehicle(pick)}/identity`,
    'on paper': (pick) => `${vehicle(pick)}/on-paper`,
    'hand-over file': (pick) => `${vehicle(pick)}/handover-file`,
    'log form': (pick) => `${vehicle(pick)}/entries/new?component=${branch(pick)}`,
    'log form, parts': (pick) => `${vehicle(pick)}/entries/part-choices?verb=swapped&component=${branch(pick)}&q=${word(pick)}`,
    photos: (pick) => `${vehicle(pick)}/photos`,
    'photos, as of': (pick) => `${vehicle(pick)}/photos?on=${day(pick)}`,
    photo: (pick) => `/photos/${pick.one(photos)}`,
    shelf: (pick) => `/shelf?page=${1 + pick.number(5)}`,
    'shelf, find': (pick) => `/shelf?contains=${word(pick)}`,
    part: (pick) => `/parts/${pick.one(parts)}`,
    'parts compared': (pick) => `/parts/compare?part=${pick.one(fuses)}&part=${pick.one(fuses)}`,
    inspections: (pick) => `/parts/${pick.one(parts)}/inspections/new`,
    decision: (pick) => `/decisions/new?vehicle=${pick.one(vehicles)}`,
    due: () => '/due',
    'due on a vehicle': (pick) => `${vehicle(pick)}/due`,
    costs: () => '/costs',
    trash: () => '/trash',
    rules: () => '/rules',
    feeds: () => '/feeds',
    account: () => '/account',
  }
  const owners: Readonly<Record<string, (pick: Pick) => string>> = {
    'archive of a vehicle': (pick) => `${vehicle(pick)}/archive`,
    archive: () => '/archive',
    people: () => '/people',
    settings: () => '/settings',
    operations: () => '/operations',
    security: () => '/security',
    tokens: () => '/tokens',
  }
  const pictures: Readonly<Record<string, (pick: Pick) => string>> = {
    thumbnail: (pick) => `/photos/${pick.one(photos)}/thumbnail`,
    picture: (pick) => `/photos/${pick.one(photos)}/picture`,
    original: (pick) => `/photos/${pick.one(photos)}/original`,
  }
  const programs: Readonly<Record<string, (pick: Pick) => string>> = {
    'API: vehicles': () => '/api/vehicles',
    'API: document': (pick) => `/api${vehicle(pick)}/document`,
    'API: findings': (pick) => `/api${vehicle(pick)}/findings`,
    'API: entries': (pick) => `/api${vehicle(pick)}/entries?limit=50`,
    'API: readings': (pick) => `/api${vehicle(pick)}/readings?limit=50`,
    'API: photos': (pick) => `/api${vehicle(pick)}/photos?limit=50`,
    'API: parts': () => '/api/parts?limit=50',
  }
  const looked = (sort: Sort, needs: Kind['needs'], times: number) => (entry: readonly [string, (pick: Pick) => string]) => ({
    ...{ name: entry[0], sort, times, needs },
    ask: (pick: Pick) => ({ path: entry[1](pick), status: 200 }),
  })
  const log = (fields: Readonly<Record<string, string>>, path: string): Asked => ({
    ...{ path: `${path}/entries`, status: 303, saves: 'entry' },
    how: { method: 'POST', body: new URLSearchParams({ on: today, do: 'save', ...fields }) },
  })
  const save = (name: string, ask: Kind['ask'], needs: Kind['needs'] = 'anybody'): Kind => ({ name, sort: 'save', times: 1, needs, ask })
  return [
    ...Object.entries(pages).map(looked('page', 'anybody', 1)),
    ...Object.entries(owners).map(looked('page', 'owner', 1)),
    ...Object.entries(pictures).map(looked('picture', 'anybody', 3)),
    ...Object.entries(programs).map(looked('program', 'program', 1)),
    save('log a note', (pick, { token, once }) => {
      return log({ _token: token, once, verb: 'noted', component: branch(pick), text: `Looked at, ${once}.` }, vehicle(pick))
    }),
    save('log a swap', (pick, { token, once }) => {
      return log({ _token: token, once, verb: 'swapped', component: branch(pick), part: pick.one(fuses), fate: 'bin' }, vehicle(pick))
    }),
    save('try a swap', (pick, { token }) => {
      const fields = { _token: token, verb: 'swapped', component: branch(pick), part: pick.one(fuses), fate: 'bin', on: today, do: 'try' }
      return { path: `${vehicle(pick)}/entries`, status: 200, how: { method: 'POST', body: new URLSearchParams(fields) } }
    }),
    save('send a photo', async (pick, { token }) => {
      return { path: `${vehicle(pick)}/photos`, status: 303, saves: 'photo', how: { method: 'POST', body: await photoForm(pick, token) } }
    }),
  ]
}

/** As the generated household has them. */
const BRANCHES = 7
const YEARS_back = 10
const WORDS = ['F3', 'relay', 'M8x1.25', '10-32', 'green film', 'lamps serviced', 'Starter battery 7', '12.5 V', 'se re co', 'zzzz']

async function photoForm(pick: Pick, token: string): Promise<FormData> {
  const grain = { type: 'gaussian', mean: 60 + pick.number(120), sigma: 20 } as const
  const bytes = await sharp({ create: { width: 1280, height: 960, channels: 3, background: '#888', noise: grain } })
    .jpeg({ quality: 70 })
    .toBuffer()
  const form = new FormData()
  form.append('_token', token)
  form.append('photo', new Blob([new Uint8Array(bytes)], { type: 'image/jpeg' }), 'a.jpg')
  return form
}
