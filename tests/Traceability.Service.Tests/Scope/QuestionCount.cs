using System.Diagnostics;

namespace Traceability.Service.Tests.Scope;

/// <summary>Counts the questions that are sent to a database from here on, of this flow of control alone.</summary>
internal sealed class QuestionCount : IDisposable
{
    private readonly ActivityListener _listener;
    private readonly Activity _activity;
    private int _count;

    public QuestionCount()
    {
        _listener = new()
        {
            ShouldListenTo = static s => string.Equals(s.Name, "Npgsql", StringComparison.Ordinal),
            Sample = static (ref ActivityCreationOptions<ActivityContext> _) => ActivitySamplingResult.AllData,
            ActivityStarted = Started,
        };
        ActivitySource.AddActivityListener(_listener);
        _activity = new Activity("counted").Start();
    }

    /// <summary>How many were sent; several statements that go together are one.</summary>
    public int Count => _count;

    public void Dispose()
    {
        _activity.Dispose();
        _listener.Dispose();
    }

    private void Started(Activity activity)
    {
        if (activity.TraceId == _activity?.TraceId)
        {
            Interlocked.Increment(ref _count);
        }
    }
}
