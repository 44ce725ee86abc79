/** Logs: JSON lines on standard error, ISO times, secrets left out. */
import { pino } from 'pino'

export type Log = {
  debug(fields: object, message: string): void
  info(fields: object, message: string): void
  warn(fields: object, message: string): void
  error(fields: object, message: string): void
}

export const LOG_LEVELS = ['debug', 'info', 'warn', 'error', 'silent'] as const
export type LogLevel = (typeof LOG_LEVELS)[number]

/** Names whose values never reach a log line. */
const SECRETS = [
  'password',
  'secret',
  '*.password',
  '*.secret',
  'token',
  '*.token',
  'headers.authorization',
  'headers.cookie',
]

/** A logger at `level`; written synchronously, so that the last words of a dying daemon are kept. */
export function createLog(level: LogLevel): Log {
  return pino(
    {
      level,
      base: null,
      timestamp: pino.stdTimeFunctions.isoTime,
      formatters: { level: (label) => ({ level: label }) },
      redact: SECRETS,
    },
    pino.destination({ fd: 2, sync: true }),
  )
}
