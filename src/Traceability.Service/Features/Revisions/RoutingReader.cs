using Npgsql;
using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;
using Traceability.Domain.Routings;
using Traceability.Service.Storage;

namespace Traceability.Service.Features.Revisions;

/// <summary>Reads the routing of an item from its stream, as of now.</summary>
internal sealed class RoutingReader(NpgsqlDataSource database)
{
    /// <summary>The routing; null if none was ever drafted.</summary>
    public async Task<Routing?> FindAsync(ItemNumber item, CancellationToken cancellation)
    {
        var stream = StreamNames.OfRouting(item);
        await using var connection = await database.OpenConnectionAsync(cancellation);
        return (await EventReader.LoadAsync(connection, [stream], cancellation)).TryGetValue(stream, out var facts) ? Routing.Of(item, facts) : null;
    }

    /// <summary>The refusal for an item without a routing.</summary>
    public static Refusal Unknown(ItemNumber item) =>
        Refusal.At("definition-unknown", RefusalKind.Unknown, "item", $"A routing of item {item} is not known. Define it first, or correct the address.");

    /// <summary>The refusal for a revision that the routing does not have.</summary>
    public static Refusal Unknown(ItemNumber item, RevisionCode revision, string pointer, string what) =>
        Refusal.At("revision-unknown", RefusalKind.Unknown, pointer, $"{what} {revision} of {item} is not known. Correct the revision.");
}
