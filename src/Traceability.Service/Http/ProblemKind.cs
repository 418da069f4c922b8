namespace Traceability.Service.Http;

/// <summary>A kind of problem that the service itself answers with, whatever the feature.</summary>
/// <param name="Code">Stable kebab-case code that clients branch on; listed in contracts/problems.json.</param>
/// <param name="Status">HTTP status.</param>
/// <param name="Title">What the kind means, the same each time.</param>
internal sealed record ProblemKind(string Code, int Status, string Title)
{
    public static readonly ProblemKind RequestMalformed = new("request-malformed", StatusCodes.Status400BadRequest, "The request can't be read.");

    public static readonly ProblemKind BodyMalformed = new("body-malformed", StatusCodes.Status400BadRequest, "The body can't be read.");

    public static readonly ProblemKind KeyMissing = new("key-missing", StatusCodes.Status401Unauthorized, "A key is needed.");

    public static readonly ProblemKind KeyUnknown = new("key-unknown", StatusCodes.Status401Unauthorized, "The key is not known or was revoked.");

    public static readonly ProblemKind RoleNotAllowed = new("role-not-allowed", StatusCodes.Status403Forbidden, "The key's role does not allow this.");

    public static readonly ProblemKind RouteUnknown = new("route-unknown", StatusCodes.Status404NotFound, "There is nothing at this address.");

    public static readonly ProblemKind NotKnown = new("not-known", StatusCodes.Status404NotFound, "It is not known here.");

    public static readonly ProblemKind MethodNotAllowed = new("method-not-allowed", StatusCodes.Status405MethodNotAllowed, "The address does not take this method.");

    public static readonly ProblemKind RequestTimeout = new("request-timeout", StatusCodes.Status408RequestTimeout, "The request came too slowly.");

    public static readonly ProblemKind BodyTooLarge = new("body-too-large", StatusCodes.Status413PayloadTooLarge, "The body is larger than this address takes.");

    public static readonly ProblemKind MediaTypeUnsupported = new("media-type-unsupported", StatusCodes.Status415UnsupportedMediaType, "The body's media type is not taken here.");

    public static readonly ProblemKind Unexpected = new("unexpected", StatusCodes.Status500InternalServerError, "The service met something that it was not made for.");

    public static readonly ProblemKind StoreUnavailable = new("store-unavailable", StatusCodes.Status503ServiceUnavailable, "The database can't be reached.");

    /// <summary>Every kind.</summary>
    public static ImmutableArray<ProblemKind> All { get; } =
    [
        RequestMalformed, BodyMalformed, KeyMissing, KeyUnknown, RoleNotAllowed, RouteUnknown, NotKnown, MethodNotAllowed, RequestTimeout, BodyTooLarge,
        MediaTypeUnsupported, Unexpected, StoreUnavailable,
    ];

    /// <summary>The kind that an answer without a body stands for.</summary>
    /// <param name="status">The answer's status, 400 or above.</param>
    /// <param name="isRouted">Whether an endpoint gave it.</param>
    public static ProblemKind OfStatus(int status, bool isRouted) => status switch
    {
        StatusCodes.Status401Unauthorized => KeyMissing,
        StatusCodes.Status403Forbidden => RoleNotAllowed,
        StatusCodes.Status404NotFound => isRouted ? NotKnown : RouteUnknown,
        StatusCodes.Status405MethodNotAllowed => MethodNotAllowed,
        StatusCodes.Status408RequestTimeout => RequestTimeout,
        StatusCodes.Status413PayloadTooLarge => BodyTooLarge,
        StatusCodes.Status415UnsupportedMediaType => MediaTypeUnsupported,
        StatusCodes.Status503ServiceUnavailable => StoreUnavailable,
        < StatusCodes.Status500InternalServerError => RequestMalformed with { Status = status },
        _ => Unexpected with { Status = status },
    };
}
