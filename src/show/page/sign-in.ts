/** The form that stands alone while nobody is signed in. */
import { el } from './dom.js'
import { actWithoutSite } from './net.js'

/** Calls `done` when the daemon has accepted name and secret. */
export function signInForm(done: () => void): HTMLElement {
  const name = el('input', { id: 'name', name: 'username', autocomplete: 'username', required: true, maxlength: 64 })
  const secret = el('input', {
    id: 'secret',
    name: 'password',
    type: 'password',
    autocomplete: 'current-password',
    required: true,
    maxlength: 256,
  })
  const trouble = el('p', { class: 'caution', role: 'alert', hidden: true })
  const form = el(
    'form',
    { class: 'sign-in' },
    el('label', { for: 'name' }, 'Name'),
    name,
    el('label', { for: 'secret' }, 'Secret'),
    secret,
    el('button', { type: 'submit', class: 'main' }, 'Sign in'),
    trouble,
  )
  form.addEventListener('submit', (event) => {
    event.preventDefault()
    trouble.hidden = true
    actWithoutSite('/api/session', { name: name.value, secret: secret.value }).then(done, (error: unknown) => {
      trouble.textContent = error instanceof Error ? error.message : 'It did not work'
      trouble.hidden = false
      secret.value = ''
      secret.focus()
    })
  })
  return form
}
