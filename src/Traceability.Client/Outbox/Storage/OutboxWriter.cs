using System.Collections.Concurrent;

namespace Traceability.Client.Outbox.Storage;

/// <summary>
/// The one thread that uses the file. What came in while it wrote goes into the next transaction together, so that many
/// callers share one wait for the disk, without a timer.
/// </summary>
internal sealed class OutboxWriter : IDisposable
{
    private const int GroupMax = 512;

    private readonly OutboxFile file;
    private readonly Action<bool> ended;
    private readonly BlockingCollection<Job> queue = [];
    private readonly Thread thread;

    /// <summary>Starts the thread.</summary>
    /// <param name="file">The file; it is disposed of with this.</param>
    /// <param name="ended">Called after each transaction, before anybody is told: whether it was committed.</param>
    public OutboxWriter(OutboxFile file, Action<bool> ended)
    {
        this.file = file;
        this.ended = ended;
        thread = new(Run) { IsBackground = true, Name = "outbox" };
        thread.Start();
    }

    /// <summary>Does the work within a transaction; done when that is on the disk.</summary>
    /// <typeparam name="T">What it gives.</typeparam>
    /// <param name="work">
    /// The work, which may throw an <see cref="OutboxException"/> as long as it has written nothing, and gives what to do after the
    /// commit, before the next work begins.
    /// </param>
    public async Task<T> DoAsync<T>(Func<OutboxFile, (T Result, Action? Then)> work)
    {
        var job = new Job<T>(work);
        try
        {
            queue.Add(job);
        }
        catch (InvalidOperationException e)
        {
            throw new ObjectDisposedException("The outbox is closed.", e);
        }

        return await job.Done.Task.ConfigureAwait(false);
    }

    public void Dispose()
    {
        queue.CompleteAdding();
        thread.Join();
        queue.Dispose();
        file.Dispose();
    }

    private void Run()
    {
        List<Job> group = [];
        foreach (var first in queue.GetConsumingEnumerable())
        {
            group.Add(first);
            while (group.Count < GroupMax && queue.TryTake(out var next))
            {
                group.Add(next);
            }

            Commit(group);
            group.Clear();
        }
    }

    private void Commit(List<Job> group)
    {
        try
        {
            file.Begin();
            foreach (var job in group)
            {
                job.Work(file);
            }

            file.Commit();
            group.ForEach(j => j.Apply());
            ended(true);
        }
        catch (Exception e)
        {
            file.Rollback();
            ended(false);
            var failure = e as OutboxStorageException ?? new OutboxStorageException($"The disk did not take it: {e.Message}", e);
            group.ForEach(j => j.Fail(failure));
            return;
        }

        group.ForEach(j => j.Tell());
    }

    private abstract class Job
    {
        public abstract void Work(OutboxFile file);

        public abstract void Apply();

        public abstract void Tell();

        public abstract void Fail(Exception e);
    }

    private sealed class Job<T>(Func<OutboxFile, (T Result, Action? Then)> work) : Job
    {
        private T? result;
        private Action? then;
        private Exception? refused;

        public TaskCompletionSource<T> Done { get; } = new(TaskCreationOptions.RunContinuationsAsynchronously);

        public override void Work(OutboxFile file)
        {
            try
            {
                (result, then) = work(file);
            }
            catch (OutboxException e) when (e is not OutboxStorageException)
            {
                refused = e;
            }
        }

        public override void Apply() => then?.Invoke();

        public override void Tell()
        {
            if (refused is null)
            {
                Done.TrySetResult(result!);
            }
            else
            {
                Done.TrySetException(refused);
            }
        }

        public override void Fail(Exception e) => Done.TrySetException(refused ?? e);
    }
}
