/** The forms of a page, with what a browser would send of each. */
import { tagsOf } from './markup.ts'

export type FieldOf = {
  readonly name: string
  readonly value: string
  /** one may type any text there */
  readonly isText: boolean
  readonly maxLength: number
}
export type FormOf = { readonly action: string; readonly fields: readonly FieldOf[] }

export function formsOf(html: string): readonly FormOf[] {
  return [...html.matchAll(/<form([^>]*)>([\s\S]*?)<\/form>/g)].flatMap(([, head = '', inner = '']) => {
    const form = tagsOf(`<form${head}>`)[0]
    if (form?.attributes.get('method') !== 'post') return []
    return [{ action: readable(form.attributes.get('action') ?? ''), fields: [...inputs(inner), ...selects(inner), ...areas(inner)] }]
  })
}

/** What stands in the attribute of a tag, read as a browser does. */
function readable(text: string): string {
  return text.replaceAll('&quot;', '"').replaceAll('&#39;', "'").replaceAll('&lt;', '<').replaceAll('&gt;', '>').replaceAll('&amp;', '&')
}

function inputs(html: string): readonly FieldOf[] {
  return tagsOf(html)
    .filter(({ name, attributes }) => name === 'input' && !['file', 'image', 'submit'].includes(attributes.get('type') ?? ''))
    .filter(({ attributes }) => !['checkbox', 'radio'].includes(attributes.get('type') ?? '') || attributes.has('checked'))
    .map(({ attributes }) => ({
      name: attributes.get('name') ?? '',
      value: readable(attributes.get('value') ?? ''),
      isText: ['text', 'search', 'url', undefined].includes(attributes.get('type')) && attributes.get('inputmode') === undefined,
      maxLength: Number(attributes.get('maxlength') ?? 10_000),
    }))
}

function selects(html: string): readonly FieldOf[] {
  return [...html.matchAll(/<select([^>]*)>([\s\S]*?)<\/select>/g)].map(([, head = '', inner = '']) => {
    const options = tagsOf(inner).filter(({ name }) => name === 'option')
    const chosen = options.find(({ attributes }) => attributes.has('selected')) ?? options.at(-1)
    const name = tagsOf(`<select${head}>`)[0]?.attributes.get('name') ?? ''
    return { name, value: readable(chosen?.attributes.get('value') ?? ''), isText: false, maxLength: 0 }
  })
}

function areas(html: string): readonly FieldOf[] {
  return [...html.matchAll(/<textarea([^>]*)>([\s\S]*?)<\/textarea>/g)].map(([, head = '', inner = '']) => {
    const area = tagsOf(`<textarea${head}>`)[0]
    return {
      name: area?.attributes.get('name') ?? '',
      value: readable(inner),
      isText: true,
      maxLength: Number(area?.attributes.get('maxlength') ?? 10_000),
    }
  })
}
