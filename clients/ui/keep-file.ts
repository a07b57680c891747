// A file that the server makes, kept where the browser keeps what is downloaded.

/** Keeps the answer under the name that it has (RFC 8187). */
export async function keepFile(answer: Response): Promise<void> {
  const named = /filename\*=UTF-8''([^;]+)/.exec(answer.headers.get('content-disposition') ?? '')?.[1];
  const link = document.createElement('a');
  link.href = URL.createObjectURL(await answer.blob());
  link.download = named === undefined ? 'holdfast.html' : decodeURIComponent(named);
  link.click();
  // The download has begun by then, or never will.
  setTimeout(() => URL.revokeObjectURL(link.href), 60_000);
}
