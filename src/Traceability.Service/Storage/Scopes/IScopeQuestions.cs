using System.Text.Json;
using Npgsql;
using Traceability.Contracts;
using Traceability.Domain.Judging;
using Traceability.Domain.Primitives;
using Traceability.Domain.Scope;
using Traceability.Service.Http.Reading;

namespace Traceability.Service.Storage.Scopes;

/// <summary>A unit that a suspect reaches.</summary>
/// <param name="Unit">The unit.</param>
/// <param name="Verdict">How sure that is.</param>
/// <param name="Place">Where it is: where the outermost unit stands that it is inside of.</param>
internal readonly record struct ReachedUnit(UnitKey Unit, ScopeVerdict Verdict, Place Place);

/// <summary>By which way a unit is reached.</summary>
/// <param name="Words">In words.</param>
/// <param name="Record">The record that the way rests on; null where it rests on none.</param>
internal sealed record ReachedBy(string Words, Guid? Record);

/// <summary>What a suspect reaches, from one snapshot; good while the snapshot's connection is open.</summary>
/// <param name="AsOf">The moment of asking.</param>
/// <param name="Units">The units, each once.</param>
/// <param name="Completeness">What may be missing.</param>
/// <param name="Remarks">What a reader must know of it, in words.</param>
/// <param name="Ways">By which way these units, which must be among <paramref name="Units"/>, are reached.</param>
internal sealed record FoundScope(
    DateTimeOffset AsOf,
    ImmutableArray<ReachedUnit> Units,
    Completeness Completeness,
    ImmutableArray<string> Remarks,
    Func<IReadOnlyCollection<UnitKey>, CancellationToken, Task<IReadOnlyDictionary<UnitKey, ReachedBy>>> Ways);

/// <summary>Asks questions for a scope on behalf of features that keep them.</summary>
internal interface IScopeQuestions
{
    /// <summary>Reads a suspect; of no use once the reading has faults.</summary>
    Suspect Read(JsonReading reading, JsonElement element);

    /// <summary>Reads what <see cref="Write"/> wrote.</summary>
    /// <exception cref="FormatException">It is something else.</exception>
    Suspect Parse(string json);

    /// <summary>The suspect as JSON; the same suspect always as the same text.</summary>
    string Write(Suspect suspect);

    /// <summary>What the suspect reaches, or the refusal that names every part of it of which nothing is known.</summary>
    /// <param name="snapshot">A connection in a transaction that sees one moment.</param>
    /// <param name="suspect">What is suspected.</param>
    /// <param name="pointer">Where it stands in what was sent.</param>
    /// <param name="cancellation">Stops it.</param>
    Task<(FoundScope? Found, Refusal? Refusal)> AskAsync(NpgsqlConnection snapshot, Suspect suspect, string pointer, CancellationToken cancellation);
}
