import type { AddressInfo } from 'node:net'
import { SMTPServer } from 'smtp-server'

export type MailSink = {
  readonly port: number
  /** Every message taken, as it came over the wire (RFC 5322). */
  readonly mails: readonly string[]
  close(): void
}

/** A real SMTP server on loopback that keeps what it takes. */
export async function mailSink(): Promise<MailSink> {
  const mails: string[] = []
  const server = new SMTPServer({
    authOptional: true,
    disabledCommands: ['STARTTLS'],
    disableReverseLookup: true,
    onData(stream, _session, callback) {
      const pieces: Buffer[] = []
      stream.on('data', (piece: Buffer) => pieces.push(piece))
      stream.on('end', () => {
        mails.push(Buffer.concat(pieces).toString('utf8'))
        callback()
      })
    },
  })
  // A client that is killed in the middle of a message is no matter of ours.
  server.on('error', () => {})
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve))
  const { port } = server.server.address() as AddressInfo
  return { port, mails, close: () => server.close() }
}
