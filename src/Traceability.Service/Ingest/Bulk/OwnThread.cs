namespace Traceability.Service.Ingest.Bulk;

/// <summary>Runs long work on a thread of its own.</summary>
/// <remarks>The pool's few threads answer requests: work that computes or waits for the server for long would hold these up.</remarks>
internal static class OwnThread
{
    /// <summary>Runs the work; cancelled only before it begins.</summary>
    public static Task<T> RunAsync<T>(Func<T> work, CancellationToken cancellation) =>
        Task.Factory.StartNew(work, cancellation, TaskCreationOptions.LongRunning | TaskCreationOptions.DenyChildAttach, TaskScheduler.Default);

    /// <summary>Runs the work; cancelled only before it begins.</summary>
    public static Task RunAsync(Action work, CancellationToken cancellation) =>
        Task.Factory.StartNew(work, cancellation, TaskCreationOptions.LongRunning | TaskCreationOptions.DenyChildAttach, TaskScheduler.Default);
}
