using System.Globalization;
using Microsoft.AspNetCore.Http.Metadata;

namespace Traceability.Service.Http;

/// <summary>How large a request's body may be.</summary>
/// <param name="Bytes">The most bytes.</param>
internal sealed record BodyLimit(long Bytes) : IRequestSizeLimitMetadata
{
    private const int KiB = 1024;

    /// <summary>An address that says nothing else: 64 KiB.</summary>
    public static readonly BodyLimit Default = new(64 * KiB);

    /// <summary>One fact: 256 KiB. A step with a thousand measurements takes about 60 KiB.</summary>
    public static readonly BodyLimit Fact = new(256 * KiB);

    /// <summary>One photo or file: 16 MiB; it is read whole.</summary>
    public static readonly BodyLimit Attachment = new(16 * KiB * KiB);

    /// <summary>One file of master data: 16 MiB; it is read whole.</summary>
    public static readonly BodyLimit MasterData = new(16 * KiB * KiB);

    /// <summary>A batch of facts: 64 MiB; it is read line by line.</summary>
    public static readonly BodyLimit Batch = new(64 * KiB * KiB);

    /// <inheritdoc />
    long? IRequestSizeLimitMetadata.MaxRequestBodySize => Bytes;

    /// <summary>Says the limit of the address in a sentence.</summary>
    public static string Explain(HttpContext context)
    {
        var limit = context.GetEndpoint()?.Metadata.GetMetadata<IRequestSizeLimitMetadata>()?.MaxRequestBodySize ?? Default.Bytes;
        return string.Create(CultureInfo.InvariantCulture, $"The body may have at most {limit} bytes here.");
    }
}

/// <summary>Sets the limit of an address.</summary>
internal static class BodyLimitExtensions
{
    /// <summary>The body of requests to this address may be this large.</summary>
    public static TBuilder WithBodyLimit<TBuilder>(this TBuilder builder, BodyLimit limit)
        where TBuilder : IEndpointConventionBuilder => builder.WithMetadata(limit);
}
