using System.ComponentModel.DataAnnotations;

namespace Traceability.Service.Http;

/// <summary>Limits of connections. Bound from "Http" and checked when the service starts.</summary>
public sealed class HttpOptions
{
    /// <summary>Name of the configuration section.</summary>
    public const string SectionName = "Http";

    /// <summary>Gets or sets how long a client may take to send a request's headers.</summary>
    /// <value>
    /// Default 30 s, the server library's own default; at least 1 s, at most 2 minutes. To bear a slow connection costs far less than to
    /// end it and to take it again.
    /// </value>
    [Range(typeof(TimeSpan), "00:00:01", "00:02:00")]
    public TimeSpan HeadersTimeout { get; set; } = TimeSpan.FromSeconds(30);

    /// <summary>Gets or sets how slowly a body may come, after <see cref="RateGracePeriod"/>.</summary>
    /// <value>Default 240 bytes per second, the server library's own default; at least 1, at most 1,000,000.</value>
    [Range(1, 1_000_000)]
    public int BytesPerSecondMin { get; set; } = 240;

    /// <summary>Gets or sets how slowly answers may be taken, after <see cref="RateGracePeriod"/>; those that the network's buffers have taken count as taken.</summary>
    /// <value>Default 8,000 bytes per second; at least 1, at most 1,000,000.</value>
    [Range(1, 1_000_000)]
    public int AnswerBytesPerSecondMin { get; set; } = 8_000;

    /// <summary>Gets or sets how much of an answer the system may hold for a connection. Left to itself it holds megabytes for one that takes nothing.</summary>
    /// <value>Default 256 KiB, of which Linux makes twice as much; at least 16 KiB, at most 16 MiB.</value>
    [Range(16 * 1024, 16 * 1024 * 1024)]
    public int SendBufferBytes { get; set; } = 256 * 1024;

    /// <summary>Gets or sets how long a connection may be slower than that.</summary>
    /// <value>Default 15 s, for the same reason, and as a terminal's radio may be gone for some seconds; more than 1 s, at most 2 minutes.</value>
    [Range(typeof(TimeSpan), "00:00:01.001", "00:02:00")]
    public TimeSpan RateGracePeriod { get; set; } = TimeSpan.FromSeconds(15);

    /// <summary>Gets or sets how long a connection may stay open without a request.</summary>
    /// <value>Default 2 minutes; at least 1 s, at most 1 hour. A load balancer should let go of its own before.</value>
    [Range(typeof(TimeSpan), "00:00:01", "01:00:00")]
    public TimeSpan KeepAlive { get; set; } = TimeSpan.FromMinutes(2);

    /// <summary>Gets or sets the most connections that are open at a time; further ones are closed.</summary>
    /// <value>Default 20,000; at least 10, at most 1,000,000.</value>
    [Range(10, 1_000_000)]
    public int ConnectionsMax { get; set; } = 20_000;
}
