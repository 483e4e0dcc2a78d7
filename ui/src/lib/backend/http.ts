import { say } from '../words'
import { allCalls } from './calls'
import { Refusal, type Backend } from './client'

/** The token that `windfall serve` puts behind the address. */
export function tokenOf(hash: string): string {
  return new URLSearchParams(hash.replace(/^#/, '')).get('token') ?? ''
}

/** The core over loopback HTTP. */
export function httpBackend(token: string, origin: string, fetch: typeof globalThis.fetch): Backend {
  const post = async (call: string, body: unknown): Promise<Response> => {
    let response: Response
    try {
      response = await fetch(`${origin}/api/${call}`, {
        method: 'POST',
        headers: { 'Content-Type': 'application/json', Authorization: `Bearer ${token}` },
        body: JSON.stringify(body),
      })
    } catch {
      throw new Refusal('unreachable', say('error.unreachable'))
    }
    if (response.ok) return response
    throw await refusalOf(response)
  }
  const ask = async <T>(call: string, body: unknown): Promise<T> => {
    const response = await post(call, body)
    try {
      return (await response.json()) as T
    } catch {
      throw new Refusal('garbled', say('error.garbled'))
    }
  }
  return allCalls(ask, async (call, body) => {
    const response = await post(call, body)
    try {
      return await response.arrayBuffer()
    } catch {
      throw new Refusal('unreachable', say('error.unreachable'))
    }
  })
}

async function refusalOf(response: Response): Promise<Refusal> {
  const fallback = new Refusal(`http_${String(response.status)}`, say('error.status', { status: response.status }))
  try {
    const body: unknown = await response.json()
    const refusal = Refusal.from(body, fallback.code)
    return typeof body === 'object' && body !== null && 'message' in body ? refusal : fallback
  } catch {
    return fallback
  }
}
