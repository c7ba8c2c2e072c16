// Long work in a worker of its own: told how far it is, ended at once when it is cancelled or asked for anew.

/**
 * Makes one kind of work: `start(task, { progress(done, of), finish(result), fail(message) })` ends what is running
 * and begins; `cancel()` ends it. Nothing is heard of work that was ended. With `stays` a worker that is done waits for
 * the next task: for short work that comes again and again, where loading its core would take longer than the work.
 */
export function createJob({ stays = false } = {}) {
  let worker = null;
  let waiting = null; // a worker that is done

  function cancel() {
    worker?.terminate();
    worker = null;
  }

  function start(task, { progress, finish, fail }) {
    cancel();
    const mine = waiting ?? new Worker(new URL("./job-worker.js", import.meta.url), { type: "module" });
    [worker, waiting] = [mine, null];
    const end = (say, failed = false) => {
      if (worker !== mine) return;
      if (stays && !failed) [worker, waiting] = [null, mine];
      else cancel();
      say();
    };
    mine.onmessage = ({ data }) => {
      if (worker !== mine) return;
      if (data.result) end(() => finish(data.result));
      else if (data.error) end(() => fail(data.error), true);
      else progress(data.done, data.of);
    };
    mine.onerror = (event) => end(() => fail(event.message || "The work could not be started."), true);
    mine.postMessage(task);
  }

  return { start, cancel, running: () => worker !== null };
}
