/* A button marked data-passkey asks the browser for a passkey and sends what it answers with its form. Where scripts are off the page says so, and the other ways in remain. */
;(() => {
  const button = document.querySelector('button[data-passkey]')
  if (!button) return
  const { form } = button
  const says = form.querySelector('[data-passkey-says]')
  if (!window.PublicKeyCredential || !navigator.credentials) {
    says.textContent = 'This browser cannot use passkeys here.'
    return
  }
  says.textContent = button.dataset.hint
  button.hidden = false

  const bytes = (text) => Uint8Array.from(atob(text.replace(/-/g, '+').replace(/_/g, '/')), (letter) => letter.charCodeAt(0))
  const text = (buffer) =>
    btoa(String.fromCharCode(...new Uint8Array(buffer)))
      .replace(/\+/g, '-')
      .replace(/\//g, '_')
      .replace(/=+$/, '')
  const described = (those) => (those ?? []).map((one) => ({ ...one, id: bytes(one.id) }))

  /** The options as the browser wants them: bytes in the place of base64url. */
  function read(options) {
    const publicKey = { ...options, challenge: bytes(options.challenge) }
    if (options.user) publicKey.user = { ...options.user, id: bytes(options.user.id) }
    if (options.excludeCredentials) publicKey.excludeCredentials = described(options.excludeCredentials)
    if (options.allowCredentials) publicKey.allowCredentials = described(options.allowCredentials)
    return { publicKey }
  }

  function written(credential) {
    const { response } = credential
    const of = { clientDataJSON: text(response.clientDataJSON) }
    for (const name of ['attestationObject', 'authenticatorData', 'signature', 'userHandle'])
      if (response[name]) of[name] = text(response[name])
    if (response.getTransports) of.transports = response.getTransports()
    return JSON.stringify({
      id: credential.id,
      rawId: text(credential.rawId),
      type: credential.type,
      response: of,
      clientExtensionResults: credential.getClientExtensionResults(),
    })
  }

  const WORDS = {
    NotAllowedError: 'Nothing came of it: it was called off, took too long, or this device holds no passkey for here.',
    InvalidStateError: 'This device holds a passkey for you already.',
    SecurityError: 'The browser allows no passkey at this address.',
  }

  button.addEventListener('click', async (event) => {
    event.preventDefault()
    if (button.dataset.passkey === 'create' && !form.reportValidity()) return
    button.disabled = true
    says.textContent = 'Follow what your device asks …'
    try {
      const options = read(JSON.parse(button.dataset.options))
      const made = button.dataset.passkey === 'create' ? navigator.credentials.create(options) : navigator.credentials.get(options)
      form.elements.answer.value = written(await made)
      if (button.hasAttribute('formaction')) form.action = button.formAction
      form.submit()
    } catch (fault) {
      says.textContent = WORDS[fault.name] ?? 'That did not work. Try again, or use another way in.'
      button.disabled = false
    }
  })
})()
