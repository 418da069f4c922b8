namespace Traceability.Client;

/// <summary>How a <see cref="TraceabilityClient"/> speaks with the service.</summary>
public sealed record TraceabilityClientOptions
{
    /// <summary>Gets the service's address, such as http://127.0.0.1:5080; a path in it is kept as a prefix.</summary>
    public required Uri Address { get; init; }

    /// <summary>Gets the access key; it goes into the Authorization header and nowhere else.</summary>
    public required string Key { get; init; }

    /// <summary>Gets how long one try may take, answer included. Default 10 s; 10 ms to 1 hour.</summary>
    public TimeSpan TryTimeout { get; init; } = TimeSpan.FromSeconds(10);

    /// <summary>Gets how long making a connection may take. Default 5 s. Only for a client that makes its own <see cref="HttpClient"/>.</summary>
    public TimeSpan ConnectTimeout { get; init; } = TimeSpan.FromSeconds(5);

    /// <summary>Gets the most tries of a request that may be repeated; 1: none is repeated. Default 4; 1 to 20.</summary>
    public int TriesMax { get; init; } = 4;

    /// <summary>Gets the wait before the second try; it doubles from try to try, with jitter, and is never shorter than the service's Retry-After. Default 200 ms.</summary>
    public TimeSpan FirstWait { get; init; } = TimeSpan.FromMilliseconds(200);

    /// <summary>Gets the longest wait between two tries, Retry-After aside. Default 10 s.</summary>
    public TimeSpan WaitMax { get; init; } = TimeSpan.FromSeconds(10);

    /// <summary>Gets how many tries within <see cref="CircuitWindow"/> must have been made before the circuit can open. Default 6; at least 2.</summary>
    public int CircuitTriesMin { get; init; } = 6;

    /// <summary>Gets the share of failed tries at which the circuit opens. Default 0.8.</summary>
    public double CircuitFailureShare { get; init; } = 0.8;

    /// <summary>Gets the time over which failures are counted. Default 30 s; at least 500 ms.</summary>
    public TimeSpan CircuitWindow { get; init; } = TimeSpan.FromSeconds(30);

    /// <summary>Gets how long an open circuit keeps requests back before it lets one through to see. Default 5 s; at least 500 ms.</summary>
    public TimeSpan CircuitBreak { get; init; } = TimeSpan.FromSeconds(5);
}
