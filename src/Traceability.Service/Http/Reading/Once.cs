namespace Traceability.Service.Http.Reading;

/// <summary>Tells what comes twice. Values that could not be read (default) never do.</summary>
internal readonly struct Once<T>(int capacity)
    where T : struct, IEquatable<T>
{
    // Most lists have one entry or none, and need no set.
    private readonly HashSet<T>? _seen = capacity > 1 ? new HashSet<T>(capacity) : null;

    /// <summary>Whether the value comes for the first time.</summary>
    public bool Add(T value) => value.Equals(default) || _seen is null || _seen.Add(value);
}
