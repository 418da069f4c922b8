using System.Runtime.InteropServices;

namespace Traceability.Testing.Faults;

/// <summary>What a <see cref="FaultProxy"/> can do to a request.</summary>
public enum FaultKind
{
    /// <summary>Nothing: it is passed on, and its answer back.</summary>
    None,

    /// <summary>The service gets only the first part of the request, then both connections are reset.</summary>
    CutRequest,

    /// <summary>The service gets the whole request and answers; the client gets only the first part of the answer (none of it at 0), then a reset.</summary>
    CutResponse,

    /// <summary>The request is taken and never answered; the service gets nothing.</summary>
    SilentBefore,

    /// <summary>The service gets the request and answers; the client never hears of it, on a connection that stays open.</summary>
    SilentAfter,

    /// <summary>The client's connection is reset as soon as the request is there; the service gets nothing.</summary>
    Reset,

    /// <summary>The request reaches the service, and its answer the client, slowly, at <see cref="Fault.BytesPerSecond"/>.</summary>
    Slow,

    /// <summary>The service gets the request twice, on two connections at once; the client gets the first one's answer.</summary>
    Duplicate,
}

/// <summary>What is to be done to one request.</summary>
/// <param name="Kind">What.</param>
/// <param name="At">With cuts: after what share of the bytes, 0 to 1.</param>
/// <param name="BytesPerSecond">With slow: how fast.</param>
[StructLayout(LayoutKind.Auto)]
public readonly record struct Fault(FaultKind Kind, double At = 0, int BytesPerSecond = 0)
{
    /// <summary>Nothing.</summary>
    public static readonly Fault None = new(FaultKind.None);
}

/// <summary>A fault that hit: what it did to which request.</summary>
/// <param name="Request">The number of the request, from 0.</param>
/// <param name="Fault">What was to be done.</param>
/// <param name="RequestBytes">How long the request was, head included.</param>
/// <param name="PassedOn">How many of its bytes the service got (of the first copy).</param>
/// <param name="Statuses">What the service answered, if it did; two statuses for a duplicate.</param>
public sealed record FaultHit(int Request, Fault Fault, int RequestBytes, int PassedOn, IReadOnlyList<int> Statuses)
{
    /// <summary>Gets whether the service got the whole request and answered, whatever the client heard.</summary>
    public bool WasAnswered => Statuses.Count > 0;
}
