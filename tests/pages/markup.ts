/** Reads a page's tags and names what is wrong with them. */
type Tag = { readonly name: string; readonly attributes: ReadonlyMap<string, string> }

const VOID = ['meta', 'link', 'input', 'br', 'hr', 'img']

export function tagsOf(html: string): readonly Tag[] {
  return [...html.matchAll(/<([a-z][a-z0-9]*)((?:\s+[a-zA-Z-]+(?:=(?:"[^"]*"|'[^']*'))?)*)\s*\/?>/g)].map(([, name = '', rest = '']) => ({
    name,
    attributes: new Map(
      [...rest.matchAll(/([a-zA-Z-]+)(?:=(?:"([^"]*)"|'([^']*)'))?/g)].map((one) => [one[1] as string, one[2] ?? one[3] ?? '']),
    ),
  }))
}

/** Faults of a whole page, in words; none for a sound one. */
export function faultsOf(html: string): readonly string[] {
  const tags = tagsOf(html)
  const faults: string[] = []
  const all = (name: string) => tags.filter((tag) => tag.name === name)
  const ids = tags.flatMap((tag) => tag.attributes.get('id') ?? [])
  if (!html.startsWith('<!doctype html>')) faults.push('no doctype')
  if ((all('html')[0]?.attributes.get('lang') ?? '') === '') faults.push('no language')
  if (!/<title>[^<]+ · Loombook<\/title>/.test(html)) faults.push('no title')
  if (all('h1').length !== 1) faults.push(`${all('h1').length} h1`)
  if (all('main').length !== 1) faults.push('no main')
  for (const id of ids) if (ids.indexOf(id) !== ids.lastIndexOf(id)) faults.push(`the id ${id} twice`)
  for (const tag of tags) {
    for (const name of tag.attributes.keys()) if (name === 'style' || /^on[a-z]/.test(name)) faults.push(`${name}= on ${tag.name}`)
    for (const name of ['aria-describedby', 'aria-labelledby', 'for'])
      for (const id of (tag.attributes.get(name) ?? '').split(' ').filter((one) => one !== ''))
        if (!ids.includes(id)) faults.push(`${name} names ${id}, which is not there`)
  }
  for (const script of all('script'))
    if (!script.attributes.get('src')?.startsWith('/static/')) faults.push('a script that is no file of ours')
  if (all('style').length > 0) faults.push('an inline style sheet')
  const labelled = new Set(all('label').map((tag) => tag.attributes.get('for')))
  for (const tag of [...all('input'), ...all('select'), ...all('textarea')]) {
    const isPicture = tag.attributes.get('type') === 'image' && tag.attributes.get('alt') !== ''
    if (tag.attributes.get('type') !== 'hidden' && !isPicture && !labelled.has(tag.attributes.get('id')))
      faults.push(`no label for ${tag.attributes.get('name')}`)
  }
  faults.push(...unbalanced(html))
  return [...new Set(faults)]
}

function unbalanced(html: string): readonly string[] {
  const open: string[] = []
  for (const [, end, name = '', , closed] of html.matchAll(
    /<(\/?)([a-z][a-z0-9]*)((?:\s+[a-zA-Z-]+(?:=(?:"[^"]*"|'[^']*'))?)*)\s*(\/?)>/g,
  )) {
    if (VOID.includes(name) || closed === '/') continue
    if (end !== '/') open.push(name)
    else if (open.pop() !== name) return [`</${name}> closes nothing`]
  }
  return open.length > 0 ? [`<${open.at(-1)}> is left open`] : []
}

/** The text of a page as a reader meets it: tags out, spaces as one. */
export function textOf(html: string): string {
  return html
    .replaceAll(/<[^>]+>/g, ' ')
    .replaceAll(/\s+/g, ' ')
    .trim()
}

/** What stands inside the element of that id. */
export function insideOf(html: string, id: string): string {
  const start = new RegExp(`<([a-z]+)[^>]*\\sid="${id}"[^>]*>`).exec(html)
  if (!start) return ''
  const from = start.index + start[0].length
  let depth = 1
  for (const found of html.slice(from).matchAll(new RegExp(`<(/?)${start[1]}[\\s>]`, 'g'))) {
    depth += found[1] === '/' ? -1 : 1
    if (depth === 0) return html.slice(from, from + found.index).trim()
  }
  return ''
}
