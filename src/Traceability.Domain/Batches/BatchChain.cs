using Traceability.Domain.Facts;
using Traceability.Domain.Primitives;

namespace Traceability.Domain.Batches;

/// <summary>A batch that parts were in.</summary>
/// <param name="Batch">The batch.</param>
/// <param name="Splits">The splits by which they left it; what happened to it after any of them did not happen to them. None for the last one that they were in.</param>
public sealed record BatchLink(Batch Batch, ImmutableArray<EffectiveFact> Splits);

/// <summary>The batches that parts were in, one after the other.</summary>
public static class BatchChain
{
    // Deeper than anybody divides the parts of an oven.
    private const int DepthMax = 50;

    /// <summary>The batch, then what it was split off, and so on. Total: where batches run in a circle, each once.</summary>
    /// <param name="batch">The batch.</param>
    /// <param name="find">Finds a batch; null if it isn't known.</param>
    public static ImmutableArray<BatchLink> Of(Batch batch, Func<BatchKey, Batch?> find)
    {
        ArgumentNullException.ThrowIfNull(batch);
        ArgumentNullException.ThrowIfNull(find);
        var links = ImmutableArray.CreateBuilder<BatchLink>();
        links.Add(new(batch, []));
        while (links.Count < DepthMax && links[^1].Batch is { Split: { } split, Origin: { } origin } && find(split.From) is { } source && links.All(l => l.Batch.Key != source.Key))
        {
            links.Add(new(source, links[^1].Splits.Add(origin)));
        }

        return links.ToImmutable();
    }
}
