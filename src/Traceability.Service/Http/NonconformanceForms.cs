using Traceability.Contracts.Nonconformances;
using Traceability.Domain.Primitives;
using Traceability.Service.Storage;
using Disposition = Traceability.Contracts.Facts.Disposition;
using Judged = Traceability.Domain.Nonconformances;

namespace Traceability.Service.Http;

/// <summary>Turns judged nonconformances into what is answered.</summary>
internal static class NonconformanceForms
{
    /// <summary>A nonconformance as it was judged.</summary>
    public static Nonconformance Of(Judged.Nonconformance n, UnitKey unit) => new()
    {
        Unit = unit.ToUnitRef(),
        Id = n.Id.Value,
        State = Enum<NonconformanceState>(EnumNames<Judged.NonconformanceState>.Of(n.State)),
        IsOpen = n.IsOpen,
        Kind = n.Kind,
        Rule = n.Rule,
        Step = n.Step?.Value,
        Attempt = n.Attempt,
        Record = n.Record,
        At = n.At,
        Message = n.Message,
        Disposition = n.Disposition is { } disposition ? Enum<Disposition>(EnumNames<Judged.Disposition>.Of(disposition)) : null,
        Decision = n.Decision,
        DecidedAt = n.DecidedAt,
        DecidedBy = n.DecidedBy?.Value,
        Concession = n.Concession?.Value,
        Awaited = [.. n.Awaited.Select(s => s.Value)],
        EndedAt = n.EndedAt,
        EndedBy = n.EndedBy,
    };

    /// <summary>A value by its stored name, which is that of the contract.</summary>
    public static T Enum<T>(string name)
        where T : struct, Enum =>
        System.Enum.GetValues<T>().First(v => string.Equals(EnumNames<T>.Of(v), name, StringComparison.Ordinal));
}
