/** Runs sources from memory, each time from the start: no mutant leaves anything behind for the next, and none touches the tree. */
import { readFileSync } from 'node:fs'
import { createRequire } from 'node:module'
import { dirname, join, resolve } from 'node:path'
import { compileFunction } from 'node:vm'
import ts from 'typescript'

export type Changed = { readonly file: string; readonly text: string }
type Module = { exports: unknown }
type Code = (module: Module, exports: unknown, require: (path: string) => unknown, directory: string) => void

const compiled = new Map<string, Code>()

/** A loader of modules by absolute path, with one source changed. `given` stands in for packages of that name. */
export function freshModules(root: string, given: Readonly<Record<string, unknown>>, changed?: Changed): (file: string) => unknown {
  const outside = createRequire(join(root, 'package.json'))
  const modules = new Map<string, Module>()
  const load = (file: string): unknown => {
    const known = modules.get(file)
    if (known) return known.exports
    const module: Module = { exports: {} }
    modules.set(file, module)
    const code = changed?.file === file ? compile(file, changed.text) : codeOf(file)
    code(module, module.exports, (path) => (path.startsWith('.') ? load(resolve(dirname(file), path)) : packageOf(path)), dirname(file))
    return module.exports
  }
  const packageOf = (path: string): unknown => {
    if (path in given) return given[path]
    return outside(path)
  }
  return load
}

function codeOf(file: string): Code {
  const known = compiled.get(file)
  if (known) return known
  const text = readFileSync(file, 'utf8')
  const code = compile(file, file.endsWith('.json') ? `export default ${text}` : text)
  compiled.set(file, code)
  return code
}

function compile(file: string, text: string): Code {
  const { outputText, diagnostics } = ts.transpileModule(text.replaceAll('import.meta.dirname', '__dirname'), {
    fileName: file,
    reportDiagnostics: true,
    compilerOptions: { module: ts.ModuleKind.CommonJS, target: ts.ScriptTarget.ES2023, esModuleInterop: true, verbatimModuleSyntax: false },
  })
  const fault = diagnostics?.[0]
  // A mutant that cannot be read would count as caught by every test.
  if (fault) throw new Unreadable(`${file}: ${ts.flattenDiagnosticMessageText(fault.messageText, ' ')}`)
  return compileFunction(outputText, ['module', 'exports', 'require', '__dirname'], { filename: file }) as Code
}

export class Unreadable extends Error {
  override readonly name = 'Unreadable'
}
